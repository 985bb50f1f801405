#!/usr/bin/env bash
# What the document of the interface says, held against what the program answers, by a tester that is not ours: requests
# made from the document, well and ill formed, each answer of a described status, kind and shape, and never a fault.
#
# Needs the program built, curl, and python3 with venv. The same requests each time.
set -euo pipefail
cd "$(dirname "$0")/../../.."

# Every package is one of these very bytes.
wanted=$PWD/tests/it/web/schemathesis.txt
program=${1:-target/debug/countersign}
venv=$PWD/target/schemathesis-$(sha256sum "$wanted" | cut -c1-16)
if [[ ! -x $venv/bin/schemathesis ]]; then
    python3 -m venv "$venv"
    "$venv/bin/pip" install --quiet --require-hashes --only-binary :all: --requirement "$wanted"
fi

folder=$(mktemp -d)
server=
finish() {
    if [[ -n $server ]]; then
        kill "$server" 2>/dev/null || true
        wait "$server" 2>/dev/null || true
    fi
    rm -rf "$folder"
}
trap finish EXIT
export COUNTERSIGN_JOURNAL=$folder/journal COUNTERSIGN_FORMULARY=$PWD/formulary
at=2026-03-14T07:50:00+00:00
"$program" journal create "$COUNTERSIGN_JOURNAL" --demonstration --at "$at" >"$folder/made"
printf '281940\n281940\n' | "$program" people add "A. Idowu" --role anaesthetist --at "$at" >>"$folder/made"
printf '281940\nquiet harbour 7\nquiet harbour 7\n' |
    "$program" people add "M. Tamm" --role nurse --as "A. Idowu" --at "$at" >>"$folder/made"
"$program" serve --address 127.0.0.1:0 --idle 60 --at "$at" >"$folder/serves" 2>"$folder/says" &
server=$!
for _ in $(seq 100); do
    grep -q Serving "$folder/serves" && break
    sleep 0.1
done
base=$(sed -n 's/^Serving at \(.*\)\/$/\1/p' "$folder/serves")

sign_in() { curl --silent --fail-with-body --json "{\"name\": \"$1\", \"pin\": \"$2\"}" "$base/api/v1/sign-in" | sed -n 's/.*"token":"\([^"]*\)".*/\1/p'; }
token=$(sign_in "A. Idowu" 281940)

# A case that has a card, so that requests come further than "there is no such case".
tests/it/web/walk.sh "$base" "A. Idowu" 281940 "M. Tamm" "quiet harbour 7" tests/it/web/answers.json card >"$folder/walked"
case=$(sed -n 's/^case //p' "$folder/walked")
printf '[parameters]\n"path.case" = "%s"\n"path.number" = 1\n' "$case" >"$folder/real.toml"
printf '' >"$folder/any.toml"

# Values that the document cannot tell for good ones are refused with 422: that well-formed data is taken is not asked.
checks=not_a_server_error,status_code_conformance,content_type_conformance,response_headers_conformance,response_schema_conformance,negative_data_rejection,missing_required_header,unsupported_method,ignored_auth
runs() { # configuration, examples of each action, further options
    # It keeps what it found where it runs.
    (cd "$folder" && "$venv/bin/schemathesis" --config-file "$folder/$1.toml" run "$base/api/v1/openapi.json" --checks "$checks" \
        --header "Authorization: Bearer $token" --max-examples "$2" --generation-deterministic \
        --phases examples,coverage,fuzzing --request-timeout 20 --continue-on-failure "${@:3}")
}
# Handing over ends the token, and a wrong PIN is answered slowly: they come last, and with few requests.
apart=(--exclude-operation-id sign_in --exclude-operation-id hand_over)
runs any 5 "${apart[@]}"
runs real 30 "${apart[@]}" --exclude-operation-id openapi
runs any 3 --include-operation-id sign_in
runs any 3 --include-operation-id hand_over
