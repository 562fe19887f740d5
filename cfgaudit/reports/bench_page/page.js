"use strict";
(() => {
  const $ = (id) => document.getElementById(id);
  const about = JSON.parse($("about").textContent);
  const result = $("b-result");
  const files = []; // what was given: {name, kind, role, named}
  const lessons = new Map(); // dialects that are being taught, by dump and by the dialect's name
  let turn = 0; // the newest round of questions; answers of older ones are dropped
  let sheet = null; // the build sheet that the list was last made from
  let unsaved = false; // whether the bench's record has entries that no file has

  // -- The second thread, which answers one question at a time

  const waiting = new Map();
  let asked = 0;
  const worker = begun();

  function begun() {
    const parts = {};
    for (const holder of document.querySelectorAll("script[id^=part-]")) {
      parts[holder.id.slice(5)] = holder.textContent;
      holder.remove();
    }
    const made = unpacked(parts.worker).then((code) => {
      const text = [`const bytes = ${bytes};\n`, code];
      const address = URL.createObjectURL(new Blob(text, { type: "text/javascript" }));
      const thread = new Worker(address);
      thread.onmessage = heard;
      thread.onerror = (event) => broken(event.message || "its second thread can't be started");
      delete parts.worker;
      thread.postMessage({ parts, begin: about.start });
      return thread;
    });
    made.catch((error) => broken(error.message));
    return made;
  }

  // Both threads have it: a browser without a decoder of its own takes the letters one by one.
  function bytes(text) {
    if (Uint8Array.fromBase64) return Uint8Array.fromBase64(text);
    const letters = atob(text);
    const made = new Uint8Array(letters.length);
    for (let at = 0; at < letters.length; at++) made[at] = letters.charCodeAt(at);
    return made;
  }

  async function unpacked(text) {
    const stream = new Blob([bytes(text)]).stream().pipeThrough(new DecompressionStream("gzip"));
    return new Response(stream).text();
  }

  function heard({ data }) {
    if (data.stage) {
      $("b-progress").value = data.stage;
      $("b-progress").hidden = data.stage === 4;
      if (data.stage === 4 && !waiting.size) {
        say("Ready: give a dump.");
        warm().catch(() => {});
      }
      else if (data.stage < 4) say(`${data.says} You can give files already.`);
    } else if (data.failed !== undefined && !waiting.has(data.number)) broken(data.failed);
    else {
      const [done, failed] = waiting.get(data.number);
      waiting.delete(data.number);
      if (data.failed === undefined) done(data.answer);
      else failed(new Error(data.failed));
    }
  }

  // What a first audit loads, while there is nothing else to do: a file that is given goes first.
  async function warm() {
    for (const command of ["report", "check", "redact"]) {
      if (waiting.size) return;
      await ask({ do: "warm", command });
    }
  }

  function broken(why) {
    $("b-progress").hidden = true;
    say("");
    trouble(`This page can't work here: ${why}. It wants a browser of 2023 or newer.`);
  }

  async function ask(request, given) {
    const thread = await worker;
    const number = ++asked;
    return new Promise((done, failed) => {
      waiting.set(number, [done, failed]);
      thread.postMessage({ number, request, given });
    });
  }

  // -- Small tools: what is shown is text, never markup

  function make(tag, more = {}, ...inside) {
    const made = document.createElement(tag);
    for (const [name, value] of Object.entries(more)) {
      if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
      else if (value === true) made.setAttribute(name, "");
      else if (value !== false && value !== null) made.setAttribute(name, value);
    }
    made.append(...inside.filter((one) => one !== null && one !== ""));
    return made;
  }

  const say = (text) => { $("b-state").textContent = text; };

  function trouble(text) {
    $("b-trouble").textContent = text;
    $("b-trouble").hidden = !text;
  }

  function save(name, content, type) {
    const address = URL.createObjectURL(new Blob([content], { type }));
    make("a", { href: address, download: name }).click();
    setTimeout(() => URL.revokeObjectURL(address), 60000);
  }

  function lines(texts, label) {
    const text = texts.join("\n");
    const shown = make("pre", { class: "copied", tabindex: "0", role: "region", "aria-label": label }, text);
    const told = make("span", { role: "status" });
    const copy = make("button", { type: "button", onclick: async () => {
      told.textContent = (await copied(text, shown)) ? "Copied." : "Marked: copy it by hand.";
    } }, "Copy", make("span", { class: "unseen" }, ` ${label}`));
    return [shown, make("p", { class: "row" }, copy, told)];
  }

  async function copied(text, shown) {
    try {
      await navigator.clipboard.writeText(text);
      return true;
    } catch {
      getSelection().selectAllChildren(shown);
      return document.execCommand("copy");
    }
  }

  function section(id, title, ...inside) {
    const head = make("h2", { id: `${id}-head` }, title);
    return make("section", { id, "aria-labelledby": head.id }, head, ...inside);
  }

  const stem = (name) => name.replace(/^.*\//, "").replace(/\.[^.]*$/, "").replace("#", "-");

  // -- Files given

  const KINDS = { dump: "dump", sheet: "build sheet", dialect: "dialect", settings: "rules of the house", record: "bench record" };
  const ROLES = {
    dump: { now: "the one to check", before: "as it was before", with: "more of the same craft", aside: "put aside" },
    sheet: { build: "what was built", aside: "put aside" },
    dialect: { dialect: "read with it", aside: "put aside" },
  };
  const of = (role) => files.filter((file) => file.role === role).map((file) => file.name);
  const one = (role) => of(role)[0] ?? null;

  async function take(given) {
    trouble("");
    const refused = [];
    for (const { name, data } of given) {
      const answer = await ask({ do: "take", name, build: sheet }, data).catch((error) => ({ refused: error.message }));
      if (answer.refused) refused.push(`${name}: ${answer.refused}`);
      else if (answer.kind === "record" && unsaved && !confirm("The record in this page was not saved. Put the given one in its place?")) continue;
      else known(answer);
    }
    list();
    if (refused.length) trouble(refused.join("\n"));
    await refresh();
  }

  function known({ kind, names, named, lesson }) {
    if (kind === "record") unsaved = false;
    if (lesson) lessons.set(`dialect ${lesson.name}`, lesson);
    names.forEach((name, number) => {
      let file = files.find((other) => other.name === name);
      if (!file) files.push((file = { name, kind, named: !!named, role: "" }));
      if (kind === "dump") give(file, number === 0 ? "now" : "aside");
      else if (kind === "sheet") give(file, "build");
      else if (kind === "dialect" && named) give(file, "dialect");
    });
  }

  // A role that only one file can have goes from its holder: the dump before it becomes the old one.
  function give(file, role) {
    if (role === "now") {
      const holder = files.find((other) => other.role === "now" && other !== file);
      if (holder) give(holder, "before");
    }
    if (["before", "build", "dialect"].includes(role)) {
      for (const other of files) if (other.role === role && other !== file) other.role = "aside";
    }
    file.role = role;
  }

  function list() {
    $("b-given").replaceChildren(...files.map((file) => {
      const roles = file.kind === "dialect" && !file.named ? null : ROLES[file.kind];
      const choice = roles && make("select", { "aria-label": `What ${file.name} is`, onchange: (event) => {
        give(file, event.target.value);
        list();
        document.querySelector(`[aria-label="${CSS.escape(`What ${file.name} is`)}"]`)?.focus();
        refresh();
      } }, ...Object.entries(roles).map(([role, says]) => make("option", { value: role, selected: role === file.role }, says)));
      const inForce = roles ? choice : make("span", {}, "in force");
      return make("li", {}, make("span", { class: "name" }, file.name), make("span", { class: "marked" }, KINDS[file.kind]), inForce);
    }));
  }

  async function read(given) {
    const order = [...given].sort((a, b) => a.lastModified - b.lastModified || (a.name < b.name ? -1 : 1));
    return Promise.all(order.map(async (file) => ({ name: file.name, data: new Uint8Array(await file.arrayBuffer()) })));
  }

  // -- A round of questions, and what is shown of the answers

  async function refresh() {
    const mine = ++turn;
    const dump = one("now");
    if (dump === null) {
      result.hidden = true;
      say(files.length ? "Now give a dump." : "Ready: give a dump.");
      return;
    }
    const request = { dump, before: one("before"), with: of("with"), build: one("build"), dialect: one("dialect") };
    say(`Checking ${dump}.`);
    result.setAttribute("aria-busy", "true");
    const from = performance.now();
    try {
      const report = await ask({ do: "report", ...request });
      if (mine !== turn) return;
      if (report.refused) throw new Error(report.refused);
      show(report.html);
      const took = (performance.now() - from) / 1000;
      result.dataset.took ??= (performance.now() / 1000).toFixed(3);
      result.dataset.last = took.toFixed(3);
      say(`${dump} is checked: ${verdict()}`);
      const audit = { html: report.html, ...(await ask({ do: "check", ...request })) };
      if (mine !== turn) return;
      if (audit.refused) throw new Error(audit.refused);
      complete(audit, request);
      for (const more of [mends, changes, bench]) {
        await more(request, audit, mine);
        if (mine !== turn) return;
      }
      contents();
      result.dataset.round = mine;
    } catch (error) {
      if (mine !== turn) return;
      result.hidden = true;
      say("");
      trouble(error.message);
    } finally {
      if (mine === turn) result.removeAttribute("aria-busy");
    }
  }

  // What to do and the counts; what could not be checked stands in the result.
  function verdict() {
    const told = result.querySelector(".verdict")?.cloneNode(true);
    for (const more of told?.querySelectorAll("span") ?? []) more.remove();
    return told?.textContent.trim() ?? "";
  }

  // A page of a report, without its own style and script: this page has them already.
  function parsed(html) {
    const bare = html.replace(/<(style|script)>[^]*?<\/\1>/g, "");
    return new DOMParser().parseFromString(bare, "text/html");
  }

  // A page of a report as nodes of this one: its header without the name's first rank, its main
  // part, and with a prefix all addresses in it anew.
  function adopted(html, prefix = "") {
    const page = parsed(html);
    const header = [...page.querySelector("header").children];
    const main = [...page.querySelector("main").children];
    const patterns = page.querySelector("svg.patterns");
    if (patterns) $("b-patterns").replaceChildren(document.importNode(patterns, true));
    $("b-patterns").hidden = false;
    const holder = make("div", {}, ...[...header, ...main].map((node) => document.importNode(node, true)));
    const name = holder.querySelector("h1");
    if (name) name.replaceWith(make("h2", { class: "craft" }, ...name.childNodes));
    if (prefix) {
      const ids = new Set([...holder.querySelectorAll("[id]")].map((node) => node.id));
      for (const node of holder.querySelectorAll("*")) {
        for (const attribute of ["id", "for", "aria-labelledby", "aria-describedby"]) {
          const value = node.getAttribute(attribute);
          if (value) node.setAttribute(attribute, value.split(" ").map((id) => (ids.has(id) ? prefix + id : id)).join(" "));
        }
        if (node.matches("nav, [role=region]")) node.ariaLabel = `${node.ariaLabel} (${prefix.slice(0, -1)})`;
        const link = node.getAttribute("href");
        if (link?.startsWith("#") && ids.has(link.slice(1))) node.setAttribute("href", `#${prefix}${link.slice(1)}`);
      }
    }
    return holder;
  }

  function show(html) {
    const report = adopted(html);
    report.id = "b-report";
    report.tabIndex = -1;
    report.querySelector(".kind")?.remove();
    result.replaceChildren(report);
    result.hidden = false;
    filter();
  }

  function complete(audit, request) {
    ownLines($("b-report"), audit.lines);
    if (audit.told.length) $("findings").before(make("p", { class: "trouble" }, audit.told.join("\n")));
    const teach = teaching(request, audit);
    if (teach) $("findings").before(teach);
    result.append(passOn(request, audit), understood(request));
  }

  // What can be found below, once all of it is there.
  function contents() {
    const heads = [...result.querySelectorAll("section > h2")].filter((head) => !head.closest("#b-changes section"));
    const links = heads.map((head) => make("li", {}, make("a", { href: `#${head.parentElement.id}` }, head.textContent)));
    const made = make("nav", { id: "b-contents", "aria-label": "In the result" }, make("ul", {}, ...links));
    const place = $("b-contents") ?? result.querySelector("nav[aria-label='On this page']");
    place.replaceWith(made);
  }

  // Beside each place the line that stands there, as the dump has it; what is private is hidden.
  function ownLines(report, texts) {
    for (const code of report.querySelectorAll(".finding dd li > code:first-child")) {
      const [, file, line] = /^(.*?):(\d+)(?::\d+)?$/.exec(code.textContent) ?? [];
      const text = texts[file]?.[line - 1];
      if (text) code.parentElement.append(make("code", { class: "own-line" }, text.trim()));
    }
  }

  // The report's own script filters findings and steps through them. It speaks to a document, so
  // it is given one that forgets its listeners when the next report is shown, and that hears no
  // keys from the fields of this page.
  let forget = new AbortController();
  function filter() {
    forget.abort();
    forget = new AbortController();
    const { signal } = forget;
    const inReport = (event) => !event.target.closest?.("input:not([type=search]):not([type=checkbox]), textarea, select");
    const seen = {
      getElementById: $,
      get activeElement() { return document.activeElement; },
      addEventListener: (kind, act) => document.addEventListener(kind, (event) => { if (inReport(event)) act(event); }, { signal }),
    };
    const view = { addEventListener: (kind, act) => window.addEventListener(kind, act, { signal }) };
    reportScript(seen, view);
  }
  function reportScript(document, window) {
    /* the report's script */
  }

  // -- A dialect from answers, for a dump that none knows: the questions of `dialect teach`

  function teaching(request, audit) {
    const own = `dump ${request.dump}`;
    const known = lessons.get(own) ?? lessons.get(`dialect ${audit.dialect}`);
    if (!known && (audit.dialect !== null || !audit.lines[request.dump]?.some(Boolean))) return null;
    const lesson = { name: known?.name ?? "", answers: [...(known?.answers ?? [])], begun: !!known?.begun };
    lessons.set(own, lesson);
    const held = section("b-teach", audit.dialect === null ? "Teach it this dump" : "Go on teaching");
    const asked = (more) => ask({ ...request, name: lesson.name, answers: lesson.answers, ...more }).catch((error) => ({ refused: error.message }));
    const next = async () => {
      held.setAttribute("aria-busy", "true");
      const told = await asked({ do: "teach" });
      held.removeAttribute("aria-busy");
      if (told.refused) return held.append(make("p", { class: "trouble", role: "alert" }, told.refused));
      lesson.name = told.name;
      held.replaceChildren(held.firstChild, ...questioned(told, lesson, audit.lines[request.dump], asked, next));
      return held.querySelector("[name=value]");
    };
    const start = make("button", { type: "button", onclick: async () => {
      start.disabled = true;
      start.textContent = "Reading the dump";
      lesson.begun = true;
      (await next())?.focus();
    } }, "Ask me what is missing");
    held.append(make("p", {}, "You are asked for one setting after the other: which line says it, and what it is set to now. What you answer tells how other lines are meant. Nothing is taken before you have seen what it makes of the dump."), make("p", { class: "row" }, start));
    if (lesson.begun) next();
    return held;
  }

  function questioned(told, lesson, texts, asked, next) {
    const running = make("p", { class: "row running" },
      make("progress", { max: told.rules, value: told.checked, "aria-label": "Rules that can run" }), make("span", { role: "status" }, told.running));
    const took = async (change) => {
      change();
      (await next())?.focus();
    };
    const back = () => make("button", { type: "button", class: "quiet", disabled: !lesson.answers.length, onclick: () => took(() => takeBack(lesson.answers)) }, "Back to the question before");
    const name = make("input", { type: "text", id: "b-name", value: lesson.name, autocomplete: "off", spellcheck: "false", onchange: () => { lesson.name = name.value.trim(); } });
    const say = make("p", { role: "alert" });
    const learn = async (more) => {
      const made = await asked({ do: "learn", ...more });
      say.textContent = made.refused ?? "";
      return made.refused ? null : made;
    };
    const end = make("div", { class: "row ends" },
      make("label", { for: "b-name" }, "Name of the dialect"), name,
      make("button", { type: "button", onclick: async () => {
        const made = await learn({ use: true });
        if (!made) return;
        known(made);
        list();
        await refresh();
        $("b-report").focus();
      } }, "Check the dump with it"),
      make("button", { type: "button", class: "quiet", onclick: async () => {
        const made = await learn({});
        if (made) save(made.name, made.text, "application/toml");
      } }, "Save the dialect"), say);
    if (!told.question) return [running, make("p", {}, "Nothing is left to ask."), make("p", { class: "row" }, back()), end];
    const shown = told.question.path === undefined ? ofLine : question;
    return [running, shown(told.question, lesson, texts, asked, took, back()), end];
  }

  // Without the last answer; to a question about a line, without all that it states.
  function takeBack(answers) {
    const last = answers.pop();
    while (last && !last.asked && answers.length && !answers.at(-1).asked && answers.at(-1).line === last.line) answers.pop();
  }

  function made(makes, yes, no) {
    return [make("ul", {}, ...makes.map((one) => make("li", {}, one))), make("p", { class: "row" }, yes,
      make("button", { type: "button", class: "quiet", onclick: no }, "That is not right"))];
  }

  function ofLine({ line, opens, says, expects, text, above, guesses }, lesson, texts, asked, took, back) {
    const effect = make("div", { class: "effect", role: "status" });
    const value = make("input", { type: "text", name: "value", id: "b-value", autocomplete: "off", autocapitalize: "off", spellcheck: "false", "aria-describedby": "b-help", oninput: () => effect.replaceChildren() });
    const add = (path) => {
      value.value = `${value.value.trim() ? `${value.value.trim().replace(/;$/, "")}; ` : ""}${path} = `;
      effect.replaceChildren();
      value.focus();
    };
    const nothing = () => lesson.answers.push({ asked: "", path: "nothing", line });
    return make("form", { class: "question", "data-line": `${line}`, onsubmit: async (event) => {
      event.preventDefault();
      const { fault, effect: makes, answers, refused } = await asked({ do: "teach", said: value.value.trim() });
      if (!makes) return effect.replaceChildren(make("p", {}, fault ?? refused));
      const yes = make("button", { type: "button", onclick: () => took(() => lesson.answers.push(...answers)) }, "That is right");
      effect.replaceChildren(...made(makes, yes, () => { effect.replaceChildren(); value.focus(); }));
      return yes.focus();
    } },
    make("h3", {}, opens),
    make("p", { class: "asked" }, make("label", { for: "b-value" }, says)),
    ...above.map((head) => make("p", { class: "hint" }, make("code", {}, head))),
    make("p", {}, make("code", {}, text)),
    make("p", { class: "hint", id: "b-help" }, expects),
    make("p", { class: "row" }, value),
    make("p", { class: "row" }, ...guesses.map((path) => make("button", { type: "button", class: "quiet", onclick: () => add(path) }, path))),
    make("p", { class: "row" }, make("button", { type: "submit" }, "See what that makes of it"),
      make("button", { type: "button", class: "quiet", onclick: () => took(nothing) }, "Nothing of the craft"),
      make("button", { type: "button", class: "quiet", onclick: () => took(() => lesson.answers.push({ asked: "", line })) }, "I don't know it"), back),
    effect);
  }

  function question({ path, opens, says, expects, lines: likely }, lesson, texts, asked, took, back) {
    const line = (number) => `${number}  ${texts[number - 1]?.trim() ?? ""}`;
    const indented = (text) => text.replace(/^\s+/, (space) => "\u00a0".repeat(space.length)); // which an option would drop
    const choice = (value, checked, ...inside) => make("label", { class: "choice" }, make("input", { type: "radio", name: "line", value, checked }), make("span", {}, ...inside));
    const every = make("select", { size: "7", "aria-label": "The dump's lines", onchange: () => { form.elements.line.value = "other"; } },
      ...texts.flatMap((text, at) => (text ? [make("option", { value: at + 1 }, `${at + 1}  ${indented(text)}`)] : [])));
    const effect = make("div", { class: "effect", role: "status" });
    const value = make("input", { type: "text", name: "value", id: "b-value", autocomplete: "off", autocapitalize: "off", spellcheck: "false", "aria-describedby": "b-help", oninput: () => effect.replaceChildren() });
    const form = make("form", { class: "question", "data-path": path, onchange: () => effect.replaceChildren(), onsubmit: async (event) => {
      event.preventDefault();
      const chosen = form.elements.line.value;
      const answer = { asked: path, value: value.value.trim(), line: Number(chosen === "other" ? every.value : chosen) };
      const { fault, effect: makes, answers, refused } = await asked({ do: "teach", trial: answer });
      if (!makes) return effect.replaceChildren(make("p", {}, fault ?? refused));
      const yes = make("button", { type: "button", onclick: () => took(() => lesson.answers.push(...answers)) }, "That is right");
      effect.replaceChildren(...made(makes, yes, () => { effect.replaceChildren(); value.focus(); }));
      return yes.focus();
    } },
    make("h3", {}, opens),
    make("p", { class: "asked" }, make("label", { for: "b-value" }, says)),
    make("p", { class: "hint", id: "b-help" }, expects),
    make("p", { class: "row" }, value),
    make("fieldset", {}, make("legend", {}, "Which line says so?"),
      choice("0", true, "I don't know: look for the value"),
      ...likely.map((number, place) => choice(`${number}`, false, make("code", {}, line(number)), place ? "" : " most likely")),
      choice("other", false, "another, of all lines:"), every),
    make("p", { class: "row" }, make("button", { type: "submit" }, "See what that makes of it"),
      make("button", { type: "button", class: "quiet", onclick: () => took(() => lesson.answers.push({ asked: path })) }, "I don't know it"), back),
    effect);
    return form;
  }

  // -- Lines to copy

  async function mends(request, audit, mine) {
    const { mended, refused } = await ask({ do: "mend", ...request });
    if (mine !== turn) return;
    const inside = refused ? [make("p", { class: "trouble" }, refused)] : [
      ...mended.mended.map(taken),
      ...changed(mended.files),
      make("p", {}, afterwards(mended)),
      ...mended.left.map((left) => make("p", {}, make("strong", {}, left.finding.rule), ` is left: ${left.why}.`)),
    ];
    const before = $("pictures") ?? $("b-pass");
    before.before(section("b-mends", "Lines to copy", ...inside));
  }

  function taken({ finding, edits }) {
    const set = edits.filter((edit) => edit.needed).map((edit) => `${edit.path} = ${edit.value}`);
    return make("p", {}, make("a", { href: `#${finding.rule}` }, finding.rule), `: ${set.join(", ") || "nothing more, the other changes clear it"}`);
  }

  function changed(changes) {
    return changes.flatMap((change) => {
      const speech = change.dialect === "plain" ? "the plain form" : change.dialect;
      const which = changes.length > 1 ? ` (${change.file})` : "";
      const unsaid = (said) => said.unsaid.map((text) => make("p", {}, `(${text}.)`));
      return [
        make("p", { class: "caution" }, "Propellers off while settings are changed."),
        make("h3", {}, `The change, as lines of ${speech}${which}`),
        ...(change.change.lines.length ? lines(change.change.lines, `the change${which}`) : []),
        ...unsaid(change.change),
        make("h3", {}, `To take it back${which}`),
        ...(change.take_back.lines.length ? lines(change.take_back.lines, `the way back${which}`) : []),
        ...unsaid(change.take_back),
      ];
    });
  }

  function afterwards({ mended, findings_cleared: cleared, findings_new: fresh, findings_after: after }) {
    const many = (list, word) => `${list.length} ${word}${list.length === 1 ? "" : "s"}`;
    const errors = after.filter((finding) => finding.level === "error");
    const closing = errors.length ? ` ${many(errors, "error")} left. Do not fly before the errors are cleared.` : "";
    if (!mended.length) return `No finding has a mend that is sure.${closing}`;
    const brought = fresh.length ? `${many(fresh, "finding")} new: ${fresh.map((finding) => finding.message).join(" ")}` : "nothing new";
    return `Audited again with the change in it: ${many(cleared, "finding")} cleared, ${brought}.${closing} A clean audit is no proof that a craft is safe.`;
  }

  // -- What changed since the dump before

  async function changes(request, audit, mine) {
    if (request.before === null) return;
    const answer = await ask({ do: "diff", ...request });
    if (mine !== turn) return;
    const title = `What changed from ${request.before} to ${request.dump}`;
    const inside = answer.refused ? [make("p", { class: "trouble" }, answer.refused)] : [
      ...adopted(answer.html, "change-").childNodes,
      make("p", { class: "row" }, make("button", { type: "button", class: "quiet", onclick: () => save(`${stem(request.before)}-to-${stem(request.dump)}.json`, answer.json, "application/json") }, "Save the changes as JSON")),
    ];
    const made = section("b-changes", title, ...inside);
    made.classList.add("change-of");
    for (const node of made.querySelectorAll(".kind, .craft, #change-tools")) node.remove();
    const head = made.querySelector("#change-findings-head");
    if (head) head.textContent = "Findings that it brings";
    const causes = made.querySelector("#change-causes-head");
    if (causes) causes.textContent = "Causes, among what changed";
    for (const level of made.querySelectorAll(".level-group > h3")) level.append(make("span", { class: "unseen" }, " that the change brings"));
    told(made);
    ownLines(made, audit.lines);
    $("b-pass").before(made);
  }

  // What the change brings stands in full above: it is named here, and leads there.
  function told(change) {
    const key = (finding) => `${finding.querySelector(".rule").textContent} ${finding.querySelector(".message").textContent}`;
    const above = new Map([...document.querySelectorAll("#findings .finding")].map((finding) => [key(finding), finding.id]));
    for (const finding of change.querySelectorAll(".finding")) {
      const id = above.get(key(finding));
      if (id === undefined) continue;
      for (const link of change.querySelectorAll(`a[href="#${CSS.escape(finding.id)}"]`)) link.setAttribute("href", `#${id}`);
      const level = make("span", { class: "level" }, ...finding.querySelector(".level").childNodes);
      finding.replaceWith(make("p", { class: `told ${finding.dataset.level}` }, level, " ", make("a", { href: `#${id}` }, finding.querySelector(".rule").textContent), ` ${finding.querySelector(".message").textContent}`));
    }
    for (const name of change.querySelectorAll(".area-name")) name.remove();
  }

  // -- The list to work through

  async function bench(request, audit, mine) {
    const build = request.build ?? audit.build;
    sheet = build;
    const held = section("b-bench", "The list to work through");
    held.classList.add("bench");
    if (build === null) {
      held.append(
        make("p", {}, "The list to work through is made from the craft's build sheet, and none is given."),
        make("p", { class: "row" }, make("button", { type: "button", onclick: async () => {
          const made = await ask({ do: "sheet", ...request });
          if (made.refused) trouble(made.refused);
          else save(`${stem(request.dump)}.build.toml`, made.text, "application/toml");
        } }, "Save a new sheet, filled from this dump"), "Complete it with what you see and measure, and give it here."),
      );
      $("b-pass").before(held);
      return;
    }
    const draw = async (more = {}) => {
      const answer = await ask({ do: "bench", ...request, build, ...more });
      if (mine !== turn) return null;
      if (!answer.refused) held.replaceChildren($("b-bench-head") ?? held.firstChild, ...steps(answer, record));
      return answer;
    };
    const record = async (more, id) => {
      const answer = await draw(more);
      if (answer === null) return;
      const step = held.querySelector(`[data-step="${CSS.escape(id)}"]`);
      if (answer.refused) {
        step?.querySelector("[role=alert]").replaceChildren(answer.refused);
        return;
      }
      unsaved = true;
      (step ?? held).focus();
    };
    const answer = await draw();
    if (answer === null) return;
    if (answer.refused) held.append(make("p", { class: "trouble" }, answer.refused));
    $("b-pass").before(held);
  }

  function steps(answer, record) {
    const { list, html } = answer;
    const page = parsed(html);
    const caution = page.querySelector(".work > .caution")?.textContent ?? "";
    const counts = Object.entries(list.counts).filter(([, many]) => many).map(([state, many]) => `${many} ${state}`);
    return [
      make("p", { class: "caution" }, caution),
      make("p", {}, `${list.craft}, by ${list.build}: ${counts.join(", ")}.`),
      ...(list.recorded ? [recorded(list.recorded)] : []),
      make("p", { class: "row" },
        make("button", { type: "button", disabled: !answer.record, onclick: () => { save(list.record, answer.record, "application/toml"); unsaved = false; } }, "Save the record"),
        answer.record ? `Kept nowhere but in ${list.record}, once you save it. Give that file to go on another day.` : `Nothing is recorded yet. To go on from another day, give ${list.record}.`),
      ...list.sections.flatMap((part) => [make("h3", {}, part.title), make("ol", {}, ...cautioned(part.steps, record))]),
    ];
  }

  // A caution is told once in a part, with the first step that it goes with.
  function cautioned(some, record) {
    const told = new Set();
    return some.map((step) => {
      const fresh = step.state !== "done" && step.caution && !told.has(step.caution);
      if (fresh) told.add(step.caution);
      return stepItem(step, fresh ? step.caution : "", record);
    });
  }

  const BOXES = { open: "", done: "M3 8l3.5 4L13 4", failed: "M4 4l8 8M12 4l-8 8", shut: "M4 8h8" };
  const STATES = { open: "to do", done: "done", failed: "failed", shut: "shut" };

  function box(state) {
    const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    svg.setAttribute("viewBox", "0 0 16 16");
    svg.setAttribute("aria-hidden", "true");
    for (const drawn of ["M1 1h14v14H1z", BOXES[state]]) {
      const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
      path.setAttribute("d", drawn);
      svg.append(path);
    }
    return svg;
  }

  function stepItem(step, caution, record) {
    const marked = step.state === "shut"
      ? (step.failed_before.length ? `for ${step.failed_before.join(", ")} failed` : `opens after ${step.waits_for.slice(0, 3).join(", ")}${step.waits_for.length > 3 ? ` and ${step.waits_for.length - 3} more` : ""}`)
      : step.changed ? "once more: what it was judged by has changed"
      : step.entry ? [step.entry.value, step.entry.at?.replace("T", " ").replace(/:\d\dZ$/, " UTC")].filter(Boolean).join(", ") : "";
    const failed = step.state === "failed" && step.entry?.says ? make("p", {}, `Failed: ${step.entry.says}.`) : null;
    return make("li", { class: step.state, tabindex: "-1", "data-step": step.id },
      make("p", { class: "box" }, box(step.state), `${step.id} `, make("span", { class: "marked" }, `${STATES[step.state]}${marked ? `: ${marked}` : ""}`)),
      ...(step.state === "done" ? [] : [make("p", {}, step.do), step.expect ? make("p", {}, `Expect: ${step.expect}`) : "", caution ? make("p", { class: "caution" }, caution) : "", failed ?? ""]),
      tell(step, record),
      make("p", { role: "alert" }));
  }

  function tell(step, record) {
    const named = () => make("span", { class: "unseen" }, ` (${step.id})`);
    const undo = step.entry?.at ? make("button", { type: "button", class: "quiet", onclick: () => record({ undo: step.id }, step.id) }, "Take back", named()) : "";
    if (step.state === "shut" || (step.state === "done" && !step.changed)) return undo ? make("p", { class: "row" }, undo) : "";
    const words = step.asks.kind === "yes" ? "" : make("label", {}, `What ${step.asks.kind === "turn" ? "turned" : "was measured"}${step.asks.sample ? `, as ${step.asks.sample}` : ""}`,
      make("br"), make("input", { type: "text", name: "value", autocomplete: "off", spellcheck: "false" }));
    return make("form", { onsubmit: (event) => {
      event.preventDefault();
      record({ done: step.id, value: event.target.elements.value?.value ?? "" }, step.id);
    } }, words,
    make("button", { type: "submit" }, words ? "Record" : "It is so", named()),
    make("button", { type: "button", class: "quiet", onclick: () => record({ done: step.id, value: "no" }, step.id) }, "It is not so", named()),
    undo);
  }

  function recorded(told) {
    const says = `${told.step} ${told.passed ? "is done" : "FAILED"}: ${told.says}.`;
    const settings = told.settings.map((one) => make("p", {}, `${one.path} = ${one.value}${one.why_not ? ` (no line for it: ${one.why_not})` : ""}`));
    const then = told.settings.length ? make("p", {}, `Then read the dump anew, and do ${told.step} once more with it.`) : null;
    return make("div", { class: "trouble", role: "status" }, make("p", {}, says), ...settings, ...changed(told.files), then ?? "");
  }

  // -- To pass on, to keep, to look at

  function passOn(request, audit) {
    const told = make("div", { role: "status" });
    const keep = make("input", { type: "checkbox", id: "b-keep" });
    const hide = make("button", { type: "button", onclick: async () => {
      const answer = await ask({ do: "redact", ...request, keep_name: keep.checked });
      told.replaceChildren(...(answer.refused ? [make("p", { class: "trouble" }, answer.refused)] : [
        make("ul", {}, ...answer.told.map((line) => make("li", {}, line))),
        make("p", {}, "Look it over before it is passed on: no list of patterns knows everything that is private."),
        make("p", { class: "row" }, make("button", { type: "button", onclick: () => save(`${stem(request.dump)}-redacted.dump`, answer.bytes, "application/octet-stream") }, "Save the redacted dump")),
      ]));
    } }, "Hide what is private");
    const json = make("button", { type: "button", class: "quiet", onclick: () => save(`${stem(request.dump)}-check.json`, audit.json, "application/json") }, "Save the audit as JSON");
    const page = make("button", { type: "button", class: "quiet", onclick: () => save(`${stem(request.dump)}-report.html`, audit.html, "text/html") }, "Save the report as a page");
    return section("b-pass", "To pass on or keep",
      make("p", {}, "Before a dump is shown to anybody: owner, name, serial numbers and places hidden, every other byte as it was."),
      make("p", { class: "row" }, make("label", { class: "tick" }, keep, " leave the craft's name in"), hide), told,
      make("p", { class: "row" }, json, page));
  }

  function understood(request) {
    const text = make("pre", { class: "copied", tabindex: "0", role: "region", "aria-label": "The settings as understood" });
    const details = make("details", { ontoggle: async () => {
      if (!details.open || text.textContent) return;
      const columns = Math.max(40, Math.min(100, Math.floor((result.clientWidth - 40) / 8.4)));
      const answer = await ask({ do: "show", ...request, columns });
      text.textContent = answer.refused ?? answer.text;
    } }, make("summary", {}, "Every setting as it was understood"), text);
    return section("b-understood", "As it was understood", details);
  }

  $("b-about").addEventListener("toggle", async () => {
    if ($("b-licences").childElementCount) return;
    const { licences } = await ask({ do: "licences" });
    $("b-licences").replaceChildren(...licences.map(([name, text]) => make("details", {}, make("summary", {}, name), make("pre", {}, text))));
  });

  // -- Ways to give files

  $("b-files").addEventListener("change", async (event) => {
    const given = await read(event.target.files);
    event.target.value = "";
    await take(given);
  });
  $("b-paste").addEventListener("submit", async (event) => {
    event.preventDefault();
    const text = $("b-text").value;
    if (!text.trim()) return;
    await take([{ name: "pasted.dump", data: new TextEncoder().encode(text) }]);
  });
  const holdsFiles = (event) => event.dataTransfer?.types.includes("Files");
  document.addEventListener("dragover", (event) => {
    if (!holdsFiles(event)) return;
    event.preventDefault();
    document.body.classList.add("over");
  });
  document.addEventListener("dragleave", (event) => {
    if (event.relatedTarget === null) document.body.classList.remove("over");
  });
  document.addEventListener("drop", async (event) => {
    if (!holdsFiles(event)) return;
    event.preventDefault();
    document.body.classList.remove("over");
    await take(await read(event.dataTransfer.files));
  });
  window.addEventListener("beforeunload", (event) => {
    if (unsaved) event.preventDefault();
  });
})();
