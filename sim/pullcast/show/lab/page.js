// The page's own hand: draws what the session says into the page, and tells it what was moved. Text only, no markup.
const $ = (id) => document.getElementById(id);
const MOST = 1000000;               // bytes of a card file
const PACE = 60;                    // ms between two moves of one slider that are told

function el(tag, props = {}, ...inside) {
  const node = document.createElement(tag);
  for (const [k, v] of Object.entries(props)) {
    if (k.includes("-") || k === "role" || k === "for" || k === "list") node.setAttribute(k === "for" ? "for" : k, v);
    else node[k] = v;
  }
  node.append(...inside);
  return node;
}

function download(name, text, kind) {
  const a = el("a", { href: URL.createObjectURL(new Blob([text], { type: kind })), download: name });
  document.body.append(a); a.click(); a.remove();
  setTimeout(() => URL.revokeObjectURL(a.href), 5000);
}

function render(carrier) {
  const value = (name) => JSON.parse(carrier[name] || "null");
  let said = 0;                     // counts messages: two alike are still two
  const say = (message) => { said += 1; carrier.said = JSON.stringify([{ ...message, count: said }]); };
  let typing = null;                // the input being moved or typed in: not overwritten
  let rows = new Map();

  function settle(input, value) { if (typing !== input && input.value !== value) input.value = value; }

  function paced(tell) {
    let last = 0, timer = null;
    return (...args) => {
      clearTimeout(timer);
      const wait = PACE - (performance.now() - last);
      const go = () => { last = performance.now(); tell(...args); };
      if (wait <= 0) go(); else timer = setTimeout(go, wait);
    };
  }

  // ---- pickers
  function drawPicks(c) {
    const home = $("picks");
    for (const p of c.picks) {
      let select = $("pick-" + p.key);
      if (!select) {
        select = el("select", { id: "pick-" + p.key });
        select.addEventListener("change", () => say({ do: p.key === "card" ? "card" : "part", key: p.key, text: select.value }));
        home.append(el("div", { className: "pick" }, el("label", { for: select.id }, p.label), select),
          el("p", { className: "fault", id: "fault-" + p.key, role: "alert" }));
      }
      const wanted = JSON.stringify(p.options);
      if (select.dataset.options !== wanted) {
        select.dataset.options = wanted;
        select.replaceChildren(...p.options.map(([v, t]) => el("option", { value: v }, t)));
      }
      select.value = p.value;
    }
  }

  // ---- controls
  function makeKnob(k) {
    const id = "knob-" + k.key;
    const box = el("input", { type: "text", id, inputMode: "decimal", spellcheck: false, "aria-describedby": "note-" + k.key + " fault-" + k.key });
    const slider = el("input", { type: "range", id: id + "-slider", "aria-label": k.label + " (slider)" });
    const own = el("span", { className: "own" });
    const unit = el("span", { className: "unit", id: "unit-" + k.key });
    const back = el("button", { type: "button", hidden: true });
    const note = el("span", { id: "note-" + k.key });
    const fault = el("p", { className: "fault", id: "fault-" + k.key, role: "alert" });
    const node = el("div", { className: "knob" },
      el("div", { className: "head" }, el("label", { for: id }, k.label), box, unit),
      el("div", { className: "track" }, slider, own), el("div", { className: "foot" }, note, back), fault);
    const tell = paced((text) => say({ do: "knob", key: k.key, text }));
    slider.addEventListener("input", () => {
      typing = slider; box.value = shown(Number(slider.value), rows.get(k.key).k.step); tell(box.value);
    });
    const rest = () => setTimeout(() => { if (typing === slider) typing = null; }, 400);
    slider.addEventListener("change", rest); slider.addEventListener("blur", rest);
    box.addEventListener("input", () => { typing = box; tell(box.value); });
    box.addEventListener("keydown", (e) => {
      const step = { ArrowUp: 1, ArrowDown: -1, PageUp: 10, PageDown: -10 }[e.key];
      const number = parseFloat(box.value);
      if (e.key === "Escape") { typing = null; tell(""); }
      if (!step || Number.isNaN(number)) return;
      e.preventDefault(); typing = null;
      box.value = shown(number + step * rows.get(k.key).k.step, rows.get(k.key).k.step); tell(box.value);
    });
    box.addEventListener("blur", () => { if (typing === box) { typing = null; if (!fault.textContent) settle(box, rows.get(k.key).k.text); } });
    back.addEventListener("click", () => { typing = null; say({ do: "knob", key: k.key, text: "" }); box.focus(); });
    return { node, box, slider, own, unit, back, note, fault, k };
  }

  function shown(value, step) {
    const digits = Math.max(0, Math.ceil(-Math.log10(step) - 1e-9));
    return value.toFixed(digits);
  }

  function drawKnobs(c) {
    const order = c.knobs.map((k) => k.key).join();
    const home = $("groups");
    if (home.dataset.order !== order) {
      home.dataset.order = order; rows = new Map(); home.replaceChildren();
      let group = null, field = null;
      for (const k of c.knobs) {
        if (k.group !== group) { group = k.group; field = el("fieldset", {}, el("legend", {}, group)); home.append(field); }
        const row = makeKnob(k); rows.set(k.key, row); field.append(row.node);
      }
    }
    for (const k of c.knobs) {
      const row = rows.get(k.key);
      row.k = k;
      Object.assign(row.slider, { min: k.low, max: k.high, step: k.step });
      settle(row.box, k.text); settle(row.slider, String(k.value));
      row.slider.setAttribute("aria-valuetext", k.text + " " + k.unit);
      row.unit.textContent = k.unit; row.note.textContent = k.note;
      row.own.style.left = `calc(${8}px + (100% - 16px) * ${Math.min(1, Math.max(0, (k.own - k.low) / (k.high - k.low)))})`;
      row.back.hidden = !k.turned; row.back.textContent = "back to " + k.own_text;
      row.node.classList.toggle("turned", k.turned);
      row.fault.textContent = k.fault; row.box.setAttribute("aria-invalid", k.fault ? "true" : "false");
    }
    for (const p of c.picks) $("fault-" + p.key).textContent = p.fault;
    $("faults").replaceChildren(...c.faults.map((t) => el("p", {}, t)));
    $("key-fault").textContent = c.key_fault;
    $("key-path").setAttribute("aria-invalid", c.key_fault ? "true" : "false");
    $("key-set-list").replaceChildren(...c.keys.map(([key, value]) => el("li", {}, `${key} = ${value} `,
      Object.assign(el("button", { type: "button", "aria-label": "Take back " + key }, "take back"), { onclick: () => say({ do: "key", key, text: "" }) }))));
    for (const name of ["undo", "redo", "reset", "rebase"]) $(name).disabled = !c.can[name];
    const list = $("key-list");
    if (!list.children.length) list.append(...c.paths.map((p) => el("option", { value: p })));
  }

  // ---- words
  function drawWords(w) {
    $("engine-name").textContent = w.name; $("sentence").textContent = w.sentence;
    $("cap-curve").textContent = w.caption; $("key-now").textContent = w.key_now; $("key-base").textContent = w.key_base;
    $("key-weak").textContent = w.key_weak; $("swatch-weak").hidden = !w.key_weak;
    $("cap-lifts").textContent = w.lifts; $("cap-waves").textContent = w.waves; $("cycle-by").textContent = w.cycle_by;
    $("version").textContent = w.version;
    document.title = w.name + " · pullcast";
    const rpm = $("rpm"); Object.assign(rpm, { min: w.first, max: w.last, step: 50 });
    settle(rpm, String(w.rpm)); settle($("rpm-box"), String(w.rpm));
    for (const r of document.querySelectorAll("#shows input")) r.checked = r.value === w.shows;
  }

  function drawMarch(m) {
    $("bar").max = m.total || 1; $("bar").value = m.done; $("march").textContent = m.text;
    $("bar").hidden = !m.running; $("stop").hidden = !m.running; $("march-on").hidden = !m.stopped;
  }

  function table(t) {
    const cells = (row, tag) => row.map((text, i) => el(tag, { className: t.right.includes(i) ? "n" : "", ...(tag === "th" ? { scope: "col" } : {}) }, text));
    return el("div", { className: "scroll", tabIndex: -1 }, el("table", {}, el("caption", {}, t.caption), el("thead", {}, el("tr", {}, ...cells(t.heads, "th"))),
      el("tbody", {}, ...t.rows.map((row, i) => el("tr", { className: t.marks[i] || "" }, ...cells(row, "td"))))));
  }

  function drawTables(t) {
    for (const name of ["numbers", "derived", "assumed"]) $(name).replaceChildren(...t[name].map(table));
    $("assumed-head").textContent = t.assumed_head;
    $("findings").replaceChildren(...t.findings.map(([level, text, remedy]) =>
      el("li", { className: level }, el("b", {}, level + " "), text, " ", el("i", {}, remedy))));
    $("fits").hidden = false;
  }

  function drawCard(c) {
    const area = $("card-text");
    if (typing !== area) area.value = c.text;
    $("card-faults").replaceChildren(...c.faults.map((f) => el("li", {}, f)));
    if (c.told !== drawCard.told || c.text !== drawCard.text) $("card-told").textContent = c.told;  // else what the page itself said stands
    drawCard.told = c.told; drawCard.text = c.text;
    $("card-use").disabled = c.faults.length > 0 || !c.edited;
  }

  // ---- lessons
  function options(name, choices, chosen) {
    return Object.entries(choices).map(([letter, text]) => el("label", { className: "option" },
      el("input", { type: "radio", name, value: letter, checked: letter === chosen }), ` ${letter}. ${text}`));
  }
  const chosen = (name) => (document.querySelector(`input[name=${name}]:checked`) || {}).value || "";

  function drawLesson(l) {
    const aside = $("lesson");
    const opening = aside.hidden && l.open;
    aside.hidden = !l.open; $("page").classList.toggle("with-lesson", l.open);
    $("lessons").setAttribute("aria-expanded", l.open ? "true" : "false");
    $("lesson-plots").hidden = !l.panels; $("plot-b").hidden = l.panels < 2;
    const top = [], end = [];
    const button = (id, text, message) => Object.assign(el("button", { type: "button", id }, text), { onclick: () => say(message()) });
    if (!l.key) {
      top.push(el("h2", { tabIndex: -1 }, "Lessons"), el("p", {}, "Each asks what you expect before anything is computed, then runs the model, explains what came out, and ends with a question."));
      top.push(el("ol", { className: "plan" }, ...l.list.map(([key, title, minutes, done]) => el("li", {},
        button("open-" + key, title, () => ({ do: "lesson", key })), ` ${minutes} min${done ? ", done" : ""}`))));
      if (!l.list.length) top.push(el("p", {}, "There are no lessons in this installation."));
    } else {
      top.push(el("p", {}, button("lesson-list", "All lessons", () => ({ do: "lesson", key: "" }))), el("h2", { tabIndex: -1 }, l.title), el("p", {}, l.purpose));
      top.push(el("p", { className: "step" }, "What do you expect?"), el("p", {}, l.question));
      top.push(el("div", { role: "radiogroup", "aria-label": l.question }, ...options("guess", l.choices, l.guess)));
      if (!l.told) top.push(button("lesson-run", "This is what I expect: run it", () => ({ do: "guess", text: chosen("guess") })));
      if (l.running) top.push(el("p", { role: "status", id: "lesson-running" }, l.running));
      if (l.fault) top.push(el("p", { className: "fault", role: "alert" }, l.fault));
      if (l.told) {
        top.push(el("p", { className: "step" }, "What came out"), el("p", { className: l.came ? "right" : "wrong" }, l.reply), ...l.told.map((t) => el("p", {}, t)));
        if (l.table) top.push(table(l.table));
        end.push(el("p", { className: "step" }, "Your turn"), el("p", {}, l.ask));
        if (Object.keys(l.answers).length) end.push(el("div", { role: "radiogroup", "aria-label": l.ask }, ...options("answer", l.answers, l.answer)));
        else end.push(el("p", { className: "row2" }, el("label", { for: "answer-box" }, "answer"), el("input", { type: "text", id: "answer-box", value: l.answer }), el("span", {}, l.unit)));
        end.push(button("lesson-answer", "Check", () => ({ do: "answer", text: $("answer-box") ? $("answer-box").value : chosen("answer") })));
        if (l.verdict) end.push(el("p", { className: l.right ? "right" : "wrong", role: "status", id: "verdict" }, l.verdict));
        end.push(el("p", { className: "step" }, "Try it on the page"), el("p", {}, ...l.settings.flatMap(([label, i]) => [button("try-" + i, label, () => ({ do: "try", key: String(i) })), " · "]).slice(0, -1)));
        if (l.sources.length) end.push(el("p", { className: "step" }, "Read further"), el("ul", {}, ...l.sources.map((s) => el("li", {}, s))));
      }
    }
    $("lesson-text").replaceChildren(...top); $("lesson-end").replaceChildren(...end);
    if (opening || l.fresh) { const h = $("lesson-text").querySelector("h2"); if (h) h.focus({ preventScroll: false }); aside.scrollTop = 0; }
  }

  // ---- what the session says
  const parts = { knobs: (c) => { drawPicks(c); drawKnobs(c); }, words: drawWords, march: drawMarch, tables: drawTables, card: drawCard, lesson: drawLesson,
    query: (q) => { if (q !== null) history.replaceState(null, "", q ? "?" + q : location.pathname); } };

  // ---- what the page says
  for (const name of ["undo", "redo", "reset", "rebase"]) $(name).addEventListener("click", () => { typing = null; say({ do: name }); });
  $("save").addEventListener("click", () => say({ do: "save" }));
  $("report").addEventListener("click", () => { $("told").textContent = "The report is being made."; say({ do: "report" }); });
  $("copy").addEventListener("click", async () => {
    if (value("query") === null) { $("told").textContent = "This card is too long for a link; save it instead."; return; }
    try { await navigator.clipboard.writeText(location.href); $("told").textContent = "The link is copied: it opens the page as it stands."; }
    catch { $("told").textContent = "Copy the page's address: it holds everything."; }
  });
  $("lessons").addEventListener("click", () => say({ do: "lessons" }));
  $("stop").addEventListener("click", () => say({ do: "stop" }));
  $("march-on").addEventListener("click", () => say({ do: "march" }));
  const tellSpeed = paced((text) => say({ do: "rpm", text }));
  $("rpm").addEventListener("input", () => { typing = $("rpm"); $("rpm-box").value = $("rpm").value; tellSpeed($("rpm").value); });
  $("rpm").addEventListener("change", () => setTimeout(() => { if (typing === $("rpm")) typing = null; }, 400));
  $("rpm-box").addEventListener("change", () => say({ do: "rpm", text: $("rpm-box").value }));
  $("key-set").addEventListener("click", () => say({ do: "key", key: $("key-path").value.trim(), text: $("key-value").value.trim() }));
  $("key-value").addEventListener("keydown", (e) => { if (e.key === "Enter") { e.preventDefault(); $("key-set").click(); } });
  const tellCard = paced((text) => say({ do: "look", text }));
  $("card-text").addEventListener("input", () => {
    typing = $("card-text");
    if ($("card-text").value.length > MOST) { $("card-told").textContent = "This text is longer than a card may be (1 MB)."; return; }
    tellCard($("card-text").value);
  });
  $("card-use").addEventListener("click", () => { typing = null; say({ do: "text", text: $("card-text").value }); });
  $("open-file").addEventListener("change", async (e) => {
    const file = e.target.files[0];
    e.target.value = "";
    if (!file) return;
    if (file.size > MOST) { $("card-told").textContent = `${file.name.slice(0, 80)} has ${file.size} bytes, more than a card may have (1 MB). It was not opened.`; return; }
    const bytes = new Uint8Array(await file.arrayBuffer());
    let text;
    try { text = new TextDecoder("utf-8", { fatal: true }).decode(bytes); }
    catch { $("card-told").textContent = `${file.name.slice(0, 80)} is not UTF-8 text. It was not opened.`; return; }
    typing = null; say({ do: "open", key: file.name.slice(0, 200), text });
  });
  document.addEventListener("keydown", (e) => {
    if (!(e.ctrlKey || e.metaKey) || e.altKey || ["TEXTAREA"].includes(e.target.tagName) || e.target.type === "text") return;
    if (e.key === "z" && !e.shiftKey) { e.preventDefault(); $("undo").click(); }
    if (e.key === "y" || (e.key === "Z" && e.shiftKey) || (e.key === "z" && e.shiftKey)) { e.preventDefault(); $("redo").click(); }
  });
  $("shows").replaceChildren(...Object.entries(value("shown")).map(([value, [label, full]]) => {
    const input = el("input", { type: "radio", name: "shows", value, "aria-label": full, title: full });
    input.addEventListener("change", () => say({ do: "shows", text: value }));
    return el("label", {}, input, " " + label);
  }));
  carrier.properties.told.change.connect(() => {
    const m = value("told");
    if (m.away) { location.replace("still" + location.search); return; }
    if (m.told !== undefined) $("told").textContent = m.told;
    if (m.file) download(m.file, m.text, m.kind);
  });
  for (const [name, draw] of Object.entries(parts)) {
    if (carrier[name]) draw(value(name));
    carrier.properties[name].change.connect(() => draw(value(name)));
  }
  page().on_event("connection_lost", () => {
    $("told").textContent = "The program that serves this page does not answer. When it does again, the page opens as it stands.";
    const again = () => fetch("still", { cache: "no-store" }).then(() => location.reload(), () => setTimeout(again, 2000));
    again();
  });
  whenBuilt(() => say({ do: "ready" }));
}

// ---- beginning: the document comes over the wire, its figures are built after that
function page() { return window.Bokeh && Bokeh.documents && Bokeh.documents[0]; }

function whenBuilt(then) {
  const built = () => page().roots().every((root) => Bokeh.index.get_by_id ? Bokeh.index.get_by_id(root.id) : Bokeh.index[root.id]);
  if (built()) requestAnimationFrame(() => then()); else setTimeout(() => whenBuilt(then), 30);
}

function begin() {
  const carrier = page() && page().get_model_by_name("wire");
  if (carrier) render(carrier); else setTimeout(begin, 10);
}
begin();
