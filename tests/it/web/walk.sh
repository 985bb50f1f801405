#!/usr/bin/env bash
# A whole case through the interface for programs, with curl alone: two people enter it blind, each reads what was found,
# both agree, and the card, the read-back, the record and the account follow.
#
# With `card` as a last word it ends at the card.
#
#   tests/it/web/walk.sh http://127.0.0.1:8440 "A. Idowu" 281940 "M. Tamm" "quiet harbour 7" answers.json
#
# answers.json holds what both read: {"area": "adult theatre", "drug": …}. In the world each reads it alone.
set -euo pipefail

api="$1/api/v1"
answers=$(<"$6")
asks() { curl --silent --show-error --fail-with-body --header "Authorization: Bearer $1" "${@:3}" "$api$2"; }
writes() { asks "$1" "$2" --json "$3"; }
text() { sed -n "s/.*\"$1\":\"\([^\"]*\)\".*/\1/p"; }
once() { od -An -N16 -tx1 /dev/urandom | tr -d ' \n'; }
sign_in() { curl --silent --show-error --fail-with-body --json "{\"name\": \"$1\", \"pin\": \"$2\"}" "$api/sign-in" | text token; }
seal() { # token, path: judge it, read what was found, seal it with what was seen
    local seen
    seen=$(writes "$1" "$2/judge" "{\"answers\": $answers, \"whole\": true}" | text seen)
    writes "$1" "$2" "{\"idempotency_key\": \"$(once)\", \"answers\": $answers, \"seen\": \"$seen\"}"
    echo
}

first=$(sign_in "$2" "$3")
second=$(sign_in "$4" "$5")
case=$(writes "$first" /cases "{\"idempotency_key\": \"$(once)\"}" | text case)
echo "case $case"
seal "$first" "/cases/$case/enter"
seal "$second" "/cases/$case/1/enter/second"
asks "$second" "/cases/$case/1/card"
echo
if [[ ${7:-} == card ]]; then
    exit
fi
rate=$(asks "$second" "/cases/$case/1/card" | sed -n 's/.*"rate":{"value":"\([^"]*\)".*/\1/p')
writes "$second" "/cases/$case/1/readback" "{\"idempotency_key\": \"$(once)\", \"shown\": [{\"value\": \"rate\", \"typed\": \"$rate mL/h\"}]}"
echo
writes "$first" "/cases/$case/1/record" "{\"idempotency_key\": \"$(once)\", \"did\": \"start\"}"
echo
asks "$first" "/cases/$case/1/record"
echo
writes "$first" "/cases/$case/1/record" "{\"idempotency_key\": \"$(once)\", \"did\": \"stop\"}"
echo
writes "$first" "/cases/$case/1/close" "{\"idempotency_key\": \"$(once)\", \"in_line\": \"0 mL\", \"left\": \"0 mL\", \"discarded\": \"50 mL\"}"
echo
asks "$first" /journal
echo
writes "$first" /hand-over '{}'
writes "$second" /hand-over '{}'
