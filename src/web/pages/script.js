// Small helps for the fingers. Nothing is judged, computed or remembered here: every answer is the server's.
"use strict";

// A form that is judged as one leaves a field: it is sent as it stands, and the server's page takes the place of ours.
const form = document.querySelector("form[data-judged]");
let sent = 0;

// The server's page is asked for as it stands.
async function judge() {
    const turn = ++sent;
    const body = new URLSearchParams(new FormData(form));
    body.set("do", "judge");
    body.set("left", [...left].join(" "));
    form.setAttribute("aria-busy", "true");
    const answer = await fetch(form.action, { method: "POST", body, redirect: "manual" }).catch(() => null);
    const text = answer !== null && answer.ok ? await answer.text() : null;
    if (turn !== sent) return;
    if (text !== null) take(new DOMParser().parseFromString(text, "text/html").querySelector("form[data-judged]"));
    form.removeAttribute("aria-busy");
}

// What is being typed is not touched, and neither is what was typed since it was sent; what is wrong with it is said.
function take(fresh) {
    for (const screen of fresh.querySelectorAll("[data-screen]")) {
        const home = form.querySelector(`[data-screen="${screen.dataset.screen}"]`);
        if (home) takeScreen(home, screen);
    }
    const found = form.querySelector("#found");
    if (!found.contains(document.activeElement)) found.replaceWith(fresh.querySelector("#found"));
    dress();
}

function takeScreen(home, screen) {
    const own = (question) => question.dataset.question;
    const old = new Map([...home.querySelectorAll("[data-question]")].map((one) => [own(one), one]));
    let before = home.querySelector("h2");
    for (const question of screen.querySelectorAll("[data-question]")) {
        const known = old.get(own(question));
        old.delete(own(question));
        let now = question;
        if (known && (known.contains(document.activeElement) || typed(known) !== typed(question))) {
            known.querySelector(".wrong")?.remove();
            const wrong = question.querySelector(".wrong");
            if (wrong && typed(known) === typed(question)) known.append(wrong);
            now = known;
        } else if (known && bare(known) === bare(question)) {
            now = known;
        } else if (known) {
            known.replaceWith(question);
        } else if (before) {
            before.after(question);
        } else {
            home.prepend(question);
        }
        before = now;
    }
    for (const gone of old.values()) if (!gone.contains(document.activeElement)) gone.remove();
}

// What stands in the fields of a question.
function typed(of) {
    const said = [...of.querySelectorAll("input")].filter((one) => one.type !== "radio" || one.checked);
    return JSON.stringify(said.map((one) => [one.name, one.value]).filter(([, value]) => value !== ""));
}

// A question as the server drew it, without what is set beneath it here.
function bare(of) {
    const copy = of.cloneNode(true);
    for (const own of copy.querySelectorAll(".keys, .letters")) own.remove();
    for (const one of copy.querySelectorAll("[hidden]")) one.hidden = false;
    for (const one of copy.querySelectorAll("input")) {
        one.removeAttribute("inputmode");
        one.removeAttribute("value");
        one.removeAttribute("checked");
        delete one.dataset.dressed;
    }
    return copy.outerHTML;
}

// Keys for gloved fingers: digits, and every unit of the kind. They write what they say, and no more.
const DIGITS = ["7", "8", "9", "4", "5", "6", "1", "2", "3", "0", ".", "Back"];
// The field that keys have written in, and that has not been judged since.
let written = null;

function button(says, does) {
    const key = document.createElement("button");
    key.type = "button";
    key.textContent = says;
    key.addEventListener("pointerdown", (event) => event.preventDefault());
    key.addEventListener("click", does);
    return key;
}

function dress() {
    for (const input of form.querySelectorAll("input[data-keys]")) {
        if (input.dataset.dressed) continue;
        input.dataset.dressed = "yes";
        // The system's keyboard would cover the page; keys of a real one still write.
        input.inputMode = "none";
        if (form.classList.contains("short")) input.after(pad(input));
        else input.addEventListener("focus", () => {
            for (const other of form.querySelectorAll(".keys")) if (other.previousSibling !== input) other.remove();
            if (!input.nextElementSibling?.classList.contains("keys")) input.after(pad(input));
        });
    }
    for (const names of form.querySelectorAll("[data-names]")) letters(names);
    strip();
}

function pad(input) {
    const all = document.createElement("div");
    all.className = "keys";
    all.setAttribute("role", "group");
    all.setAttribute("aria-label", "Digits and units");
    const row = (texts, kind) => {
        const keys = document.createElement("div");
        keys.className = kind;
        for (const text of texts) {
            const key = button(text, () => press(input, text));
            key.tabIndex = -1;
            keys.append(key);
        }
        all.append(keys);
    };
    row(DIGITS, "digits");
    for (const units of input.dataset.keys.split("\n")) row(units.split("\t"), "units");
    // For whatever no key says.
    const letters = button("Keyboard", () => {
        input.inputMode = "text";
        input.blur();
        input.focus();
    });
    letters.tabIndex = -1;
    all.lastElementChild.append(letters);
    return all;
}

function press(input, text) {
    const [from, to] = [input.selectionStart, input.selectionEnd];
    const before = input.value.slice(0, from);
    if (text === "Back") input.setRangeText("", from === to ? Math.max(0, from - 1) : from, to, "end");
    // A word stands apart from what is before it.
    else {
        const apart = (/^[a-z]/i.test(text) && /[^ ]$/.test(before)) || (/^\d/.test(text) && /[a-z]$/i.test(before));
        input.setRangeText((apart ? " " : "") + text, from, to, "end");
    }
    input.focus({ preventScroll: true });
    written = input;
    input.dispatchEvent(new Event("input", { bubbles: true }));
}

// A field that keys have written in is judged as one goes on to another, like one that was typed in.
function goOn(event) {
    if (written === null || !document.contains(written)) return;
    if (written.closest("[data-question]").contains(event.target)) return;
    const left = written;
    written = null;
    left.dispatchEvent(new Event("change", { bubbles: true }));
}

// Names by touch: a letter leaves those that begin with it, and what is chosen stands alone.
function letters(names) {
    const choices = [...names.querySelectorAll("label.choice")];
    const name = (choice) => choice.textContent.trim();
    const first = (choice) => name(choice).charAt(0).toLowerCase();
    const show = (which, chosen = false) => {
        for (const choice of choices) choice.hidden = !which(choice);
        names.querySelector(".letters").classList.toggle("chosen", chosen);
    };
    if (!names.querySelector(".letters")) {
        const row = document.createElement("div");
        row.className = "letters";
        row.setAttribute("role", "group");
        row.setAttribute("aria-label", "First letter");
        for (const letter of [...new Set(choices.map(first))]) {
            const key = button(letter, () => show((choice) => first(choice) === letter));
            key.setAttribute("aria-label", `Names with ${letter}`);
            row.append(key);
        }
        row.append(button("all names", () => show(() => true)));
        names.querySelector("label.choice").before(row);
        names.addEventListener("change", (event) => show((choice) => choice.contains(event.target), true));
        if (choices.some((choice) => choice.querySelector(":checked"))) {
            show((choice) => choice.querySelector(":checked") !== null, true);
        }
    }
}

// One reading after the other, where the form is long: each is judged as one goes on from it.
const left = new Set();
const screens = form ? [...form.querySelectorAll("[data-screen]")] : [];
let shown = null;

function show(screen) {
    shown = screen;
    for (const one of screens) one.hidden = one !== screen;
    const last = screen === screens.at(-1);
    for (const one of form.querySelectorAll("#found, .does")) one.hidden = !last;
    strip();
}

// Next stays where something is missing or wrong; the strip goes anywhere, and marks it.
async function goTo(screen, stays) {
    if (screens.indexOf(screen) > screens.indexOf(shown)) {
        const passed = screens.slice(0, screens.indexOf(screen));
        for (const one of passed) left.add(one.dataset.screen);
        written = null;
        await judge();
        const wrong = stays && passed.find((one) => one.querySelector(".wrong"));
        if (wrong) {
            show(wrong);
            wrong.querySelector(".wrong").scrollIntoView({ block: "center" });
            return;
        }
    }
    show(screen);
    scrollTo(0, 0);
    screen.querySelector("h2").focus();
}

// What one has read so far oneself, and the way to each reading.
function strip() {
    if (screens.length < 2) return;
    let nav = form.querySelector(".strip");
    if (!nav) {
        nav = document.createElement("nav");
        nav.className = "strip";
        nav.setAttribute("aria-label", "Readings");
        screens[0].before(nav);
        for (const screen of screens) nav.append(button("", () => goTo(screen, false)));
        for (const [at, screen] of screens.entries()) {
            if (at + 1 === screens.length) continue;
            const next = button("Next", () => goTo(screens[at + 1], true));
            next.className = "main next";
            screen.append(next);
        }
    }
    for (const [at, way] of [...nav.children].entries()) {
        const screen = screens[at];
        const read = [...screen.querySelectorAll("input")]
            .filter((one) => one.value !== "" && (one.type !== "radio" || one.checked)).map((one) => one.value);
        const heading = document.createElement("strong");
        heading.textContent = screen.querySelector("h2").textContent;
        way.replaceChildren(heading, ...(read.length ? [` ${read.join(", ")}`] : []));
        if (screen.querySelector(".wrong")) way.append(" - look again");
        if (screen === shown) way.setAttribute("aria-current", "step");
        else way.removeAttribute("aria-current");
    }
}

// What is half typed is kept on the server too, and not judged: whatever happens to this tablet, it is still there.
let waiting = 0;

function keep(form) {
    clearTimeout(waiting);
    waiting = setTimeout(() => {
        const body = new URLSearchParams(new FormData(form));
        body.set("do", "keep");
        fetch(form.action, { method: "POST", body, redirect: "manual" }).catch(() => null);
    }, 800);
}

if (form) {
    form.addEventListener("change", judge);
    if (form.dataset.drafts) form.addEventListener("input", () => keep(form));
    document.addEventListener("click", goOn, true);
    document.addEventListener("focusin", goOn);
    dress();
    if (screens.length > 1) {
        form.addEventListener("keydown", (event) => {
            const next = screens[screens.indexOf(shown) + 1];
            if (event.key !== "Enter" || !event.target.matches("input") || !next) return;
            event.preventDefault();
            goTo(next, true);
        });
        const wrong = screens.find((one) => one.querySelector(".wrong"));
        const asked = form.querySelector("#found .finding, #found .wrong") !== null;
        show(wrong ?? (asked ? screens.at(-1) : screens[0]));
    }
}

// A long form that is not judged while it is typed is kept all the same.
const long = document.querySelector("form[data-kept]");
if (long) long.addEventListener("input", () => keep(long));

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
