// Small helps for the fingers. Nothing is judged, computed or remembered here: every answer is the server's.
"use strict";

// A form that is judged as one leaves a field: it is sent as it stands, and the server's page takes the place of ours.
const form = document.querySelector("form[data-judged]");
let sent = 0;

async function judge() {
    const turn = ++sent;
    const body = new URLSearchParams(new FormData(form));
    body.set("do", "judge");
    form.setAttribute("aria-busy", "true");
    const answer = await fetch(form.action, { method: "POST", body, redirect: "manual" }).catch(() => null);
    const text = answer !== null && answer.ok ? await answer.text() : null;
    if (turn !== sent) return;
    if (text !== null) take(new DOMParser().parseFromString(text, "text/html").querySelector("form[data-judged]"));
    form.removeAttribute("aria-busy");
}

// What is being typed is not touched; what is wrong with it is said.
function take(fresh) {
    const own = (question) => question.dataset.question;
    const old = new Map([...form.querySelectorAll("[data-question]")].map((one) => [own(one), one]));
    let before = null;
    for (const question of fresh.querySelectorAll("[data-question]")) {
        const known = old.get(own(question));
        old.delete(own(question));
        let now = question;
        if (known && known.contains(document.activeElement)) {
            known.querySelector(".wrong")?.remove();
            const wrong = question.querySelector(".wrong");
            if (wrong) known.append(wrong);
            now = known;
        } else if (known && known.outerHTML === question.outerHTML && same(known, question)) {
            now = known;
        } else if (known) {
            known.replaceWith(question);
        } else if (before) {
            before.after(question);
        } else {
            form.querySelector("#found").before(question);
        }
        before = now;
    }
    for (const gone of old.values()) if (!gone.contains(document.activeElement)) gone.remove();
    const found = form.querySelector("#found");
    if (!found.contains(document.activeElement)) found.replaceWith(fresh.querySelector("#found"));
    keys();
}

function same(known, fresh) {
    const values = (of) => JSON.stringify([...of.querySelectorAll("input")].map((one) => [one.value, one.checked]));
    return values(known) === values(fresh);
}

// Digits for gloved fingers, under the field that is being typed. They write what their key says, and no more.
const DIGITS = ["7", "8", "9", "4", "5", "6", "1", "2", "3", "0", ".", "Back"];

function keys() {
    for (const input of form.querySelectorAll("[data-question] input:not([type])")) {
        if (input.dataset.keys || input.hasAttribute("list")) continue;
        input.dataset.keys = "yes";
        input.addEventListener("focus", () => {
            document.querySelector(".keys")?.remove();
            const pad = document.createElement("div");
            pad.className = "keys";
            pad.setAttribute("role", "group");
            pad.setAttribute("aria-label", "Digits");
            for (const digit of DIGITS) {
                const key = document.createElement("button");
                key.type = "button";
                key.tabIndex = -1;
                key.textContent = digit;
                key.addEventListener("pointerdown", (event) => event.preventDefault());
                key.addEventListener("click", () => press(input, digit));
                pad.append(key);
            }
            input.after(pad);
        });
    }
}

function press(input, digit) {
    const [from, to] = [input.selectionStart, input.selectionEnd];
    if (digit === "Back") input.setRangeText("", from === to ? Math.max(0, from - 1) : from, to, "end");
    else input.setRangeText(digit, from, to, "end");
    input.focus();
}

// What is half typed is kept on the server too, and not judged: whatever happens to this tablet, it is still there.
let waiting = 0;

function keep() {
    clearTimeout(waiting);
    waiting = setTimeout(() => {
        const body = new URLSearchParams(new FormData(form));
        body.set("do", "keep");
        fetch(form.action, { method: "POST", body, redirect: "manual" }).catch(() => null);
    }, 800);
}

if (form) {
    form.addEventListener("change", judge);
    form.addEventListener("input", keep);
    keys();
}

// What others do is pushed by the server. Under the finger or the cursor nothing is changed; it is as soon as that is
// elsewhere. A session that has ended leaves nothing on the screen.
const followed = document.querySelector("[data-follow]");
let news = null;

function put() {
    if (news === null || followed.contains(document.activeElement)) return;
    const fresh = new DOMParser().parseFromString(news, "text/html").body;
    news = null;
    if (fresh.innerHTML !== followed.innerHTML) followed.replaceChildren(...fresh.childNodes);
}

function follow() {
    const from = new EventSource(followed ? followed.dataset.follow : "/session/follow");
    from.addEventListener("ended", () => { from.close(); location.assign("/sign-in"); });
    if (followed) from.addEventListener("stands", (event) => { news = event.data; put(); });
    // A server that was started anew knows nobody; one that is away is asked again.
    from.addEventListener("error", async () => {
        if (from.readyState !== EventSource.CLOSED) return;
        const answer = await fetch("/session", { redirect: "manual" }).catch(() => null);
        if (answer !== null && answer.type === "opaqueredirect") location.assign("/sign-in");
        else setTimeout(follow, 3000);
    });
    addEventListener("pagehide", () => from.close());
}

if (document.body.hasAttribute("data-session")) {
    if (followed) followed.addEventListener("focusout", () => setTimeout(put, 0));
    follow();
}
