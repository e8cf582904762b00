// What is shown, what is lit, and what the maker does with it.

const data = JSON.parse(byId("data").textContent);
const cup = new Cup(byId("view"));
const MOST_ROWS = 1000;
const look = () => data.looks[state.look];
const rows = data.looks.flatMap((each, number) => each.orders.flatMap((order) =>
  each.strips.map((strip, index) => ({ look: number, order, strip, index }))));
const sheetsOf = new Map();  // an order and a strip's name -> the sheets on which it lies
data.sheets.forEach((sheet, number) => sheet.pieces.forEach(([order, name]) => {
  const key = `${order} ${name}`;
  if (!sheetsOf.has(key)) sheetsOf.set(key, new Set());
  sheetsOf.get(key).add(number);
}));

function keep() {
  try { sessionStorage.setItem("stripegen", JSON.stringify({ ...state, lit: null })); } catch { /* not kept */ }
}

function redraw() {
  byId("turn").value = Math.round(turned(state.turn)) % 360;
  byId("tilt").value = state.tilt;
  byId("turn-is").value = `${Math.round(turned(state.turn)) % 360}°`;
  cup.redraw();
  keep();
}

// Lights a strip of the look that is shown everywhere: { strip: its number, order: one order's id or none }.
function light(lit) {
  if (JSON.stringify(lit) === JSON.stringify(state.lit)) return;
  state.lit = lit;
  cup.cover(lit && lit.strip);
  for (const group of byId("flat").querySelectorAll("g[id^='strip-']")) {
    group.classList.toggle("faded", Boolean(lit) && group.id !== look().strips[lit.strip].id);
  }
  for (const row of byId("list").tBodies[0].rows) row.classList.toggle("lit", isLit(row.own));
  showLit();
  lightSheet();
  redraw();
}

function isLit(row) {
  const lit = state.lit;
  return Boolean(lit) && row.look === state.look && row.index === lit.strip && (!lit.order || lit.order === row.order.id);
}

function showLit() {
  if (!state.lit) { byId("lit").textContent = "\u00a0"; return; }
  const strip = look().strips[state.lit.strip];
  byId("lit").textContent = `${strip.name} (${strip.mark}), ${strip.vinyl}: ${length(strip.width)} x ${length(strip.length)}; `
    + `from ${place(strip.start)} to ${place(strip.end)}`;
}

function showLook() {
  cup.show(look());
  byId("view").setAttribute("aria-label", `The cup ${look().cup} with the pattern ${look().pattern}`);
  byId("flat").innerHTML = look().flat;
  byId("look").value = state.look;
  state.lit = null;
  showLit();
  showSpacing();
  redraw();
}

function showSpacing() {
  byId("tables").replaceChildren(...look().tables.flatMap(({ caption, heads, rows: lines }) => {
    const table = element("table"), head = table.createTHead().insertRow();
    const cell = (value, name) => {
      const made = element(name, value !== null && typeof value === "object" ? length(value.mm) : value ?? "");
      if (typeof value === "object") made.className = "number";
      return made;
    };
    head.append(...heads.map((text, column) => {
      const made = cell(text, "th");
      made.scope = "col";
      if (lines.some((line) => line[column] !== null && typeof line[column] === "object")) made.className = "number";
      return made;
    }));
    const tbody = table.createTBody();
    for (const line of lines) tbody.insertRow().append(...line.map((value) => cell(value, "td")));
    const held = element("div", undefined, "scroll");
    held.append(table);
    const all = element("div");
    all.append(element("h3", caption), held);
    return [all];
  }));
}

function showList() {
  const chosen = rows.filter((row) => (!state.order || row.order.id === state.order)
    && (!state.line || row.strip.line === state.line) && (!state.vinyl || row.strip.vinyl === state.vinyl));
  byId("list").tBodies[0].replaceChildren(...chosen.slice(0, MOST_ROWS).map((own) => {
    const { strip, order } = own, row = element("tr"), vinyl = element("td"), chip = element("span", undefined, "chip");
    row.own = own;
    row.tabIndex = 0;
    row.classList.toggle("lit", isLit(own));
    chip.style.background = strip.colour;
    vinyl.append(chip, strip.vinyl);
    const on = [...(sheetsOf.get(`${order.id} ${strip.name}`) || [])].map((number) => data.sheets[number].name).join(", ");
    row.append(element("td", strip.mark), element("td", strip.name),
      element("td", order.quantity > 1 ? `${order.id}, ${order.quantity} cups` : order.id), vinyl,
      element("td", length(strip.width), "number"), element("td", length(strip.length), "number"),
      element("td", place(strip.start)), element("td", place(strip.end)), element("td", on));
    return row;
  }));
  const strips = `${chosen.length} of ${rows.length} strips`;
  byId("count").textContent = chosen.length > MOST_ROWS ? `${strips}, the first ${MOST_ROWS} shown: narrow the list` : strips;
}

function showFilters() {
  const all = (values, what) => [["", `all ${what}`], ...[...new Set(values)].map((value) => [value, value])];
  options(byId("by-order"), all(rows.map((row) => row.order.id), "orders"));
  options(byId("by-line"), all(rows.map((row) => row.strip.line), "lines"));
  options(byId("by-vinyl"), all(rows.map((row) => row.strip.vinyl), "vinyls"));
  for (const [id, key] of [["by-order", "order"], ["by-line", "line"], ["by-vinyl", "vinyl"]]) {
    byId(id).value = state[key];
    if (byId(id).selectedIndex < 0) { state[key] = ""; byId(id).value = ""; }
    byId(id).addEventListener("change", () => { state[key] = byId(id).value; showList(); keep(); });
  }
}

const ownerOf = new Map();  // an order's id -> the number of its look
data.looks.forEach((each, number) => each.orders.forEach((order) => ownerOf.set(order.id, number)));
const numberOf = data.looks.map((each) => new Map(each.strips.map((strip, number) => [strip.name, number])));

function showSheet() {
  const sheet = data.sheets[state.sheet], view = byId("sheet-view");
  view.replaceChildren();
  if (!sheet) return;
  byId("sheet").value = state.sheet;
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  // the feed to the right: a long sheet lies along a wide screen
  svg.setAttribute("viewBox", `-2 -2 ${sheet.length + 4} ${sheet.width + 4}`);
  svg.setAttribute("role", "img");
  svg.setAttribute("aria-label", `${sheet.name}, ${sheet.pieces.length} pieces`);
  const ground = shape(`M0 0H${sheet.length}V${sheet.width}H0Z`, "#f7f5ef");
  ground.setAttribute("stroke", "#888");
  ground.setAttribute("stroke-width", 0.5);
  svg.append(ground);
  for (const [order, name, turn, x, y] of sheet.pieces) {
    const number = ownerOf.get(order), index = numberOf[number].get(name), strip = data.looks[number].strips[index];
    const path = shape(strip.outline, strip.colour);
    path.setAttribute("transform", `translate(${y} ${sheet.width - x}) rotate(${turn - 90})`);
    path.setAttribute("stroke", strip.edge);
    path.setAttribute("stroke-width", 0.2);
    path.own = { look: number, order, strip: index };
    svg.append(path);
  }
  view.append(svg);
  lightSheet(true);
}

function lightSheet(stay) {
  if (!data.sheets.length) return;
  const lit = state.lit;
  const own = (path) => path.own.look === state.look && path.own.strip === lit.strip && (!lit.order || lit.order === path.own.order);
  if (lit && !stay) {
    const name = look().strips[lit.strip].name;
    const orders = lit.order ? [lit.order] : look().orders.map((order) => order.id);
    const on = orders.flatMap((order) => [...(sheetsOf.get(`${order} ${name}`) || [])]);
    if (on.length && !on.includes(state.sheet)) { state.sheet = on[0]; showSheet(); return; }
  }
  for (const path of byId("sheet-view").querySelectorAll("path")) {
    if (path.own) path.classList.toggle("faded", Boolean(lit) && !own(path));
  }
}

function goTo(number) {
  if (number === state.look) return;
  state.look = number;
  showLook();
}

function listen() {
  const view = byId("view");
  let held = null;
  byId("look").addEventListener("change", () => goTo(Number(byId("look").value)));
  for (const radio of document.getElementsByName("units")) {
    radio.checked = radio.value === state.units;
    radio.addEventListener("change", () => { state.units = radio.value; showList(); showSpacing(); showLit(); keep(); });
  }
  byId("turn").addEventListener("input", () => { state.turn = Number(byId("turn").value); redraw(); });
  byId("tilt").addEventListener("input", () => { state.tilt = Number(byId("tilt").value); redraw(); });
  view.addEventListener("keydown", (event) => {
    const steps = { ArrowLeft: [-5, 0], ArrowRight: [5, 0], ArrowUp: [0, 5], ArrowDown: [0, -5] };
    if (event.key === "Home") [state.turn, state.tilt] = [0, 14];
    else if (event.key === "Escape") light(null);
    else if (steps[event.key]) {
      state.turn = turned(state.turn + steps[event.key][0]);
      state.tilt = Math.max(-30, Math.min(60, state.tilt + steps[event.key][1]));
    } else return;
    event.preventDefault();
    redraw();
  });
  view.addEventListener("pointerdown", (event) => {
    held = [event.clientX, event.clientY, state.turn, state.tilt];
    view.setPointerCapture(event.pointerId);
  });
  for (const name of ["pointerup", "pointercancel"]) view.addEventListener(name, () => { held = null; });
  view.addEventListener("pointermove", (event) => {
    if (held) {
      const [x, y, turn, tilt] = held;
      state.turn = turned(turn - (event.clientX - x) * 180 / view.clientWidth);
      if (event.pointerType !== "touch") state.tilt = Math.max(-30, Math.min(60, tilt + (event.clientY - y) * 0.3));
      redraw();
      return;
    }
    const box = view.getBoundingClientRect();
    const strip = cup.strip(cup.at(event.clientX - box.left, event.clientY - box.top));
    light(strip === null ? null : { strip });
  });
  view.addEventListener("click", (event) => {
    const box = view.getBoundingClientRect();
    const strip = cup.strip(cup.at(event.clientX - box.left, event.clientY - box.top));
    light(strip === null ? null : { strip });
  });
  view.addEventListener("pointerleave", () => light(null));
  byId("flat").addEventListener("pointerover", (event) => {
    const group = event.target.closest("g[id^='strip-']");
    const number = group ? look().strips.findIndex((strip) => strip.id === group.id) : -1;
    light(number < 0 ? null : { strip: number });
  });
  byId("flat").addEventListener("pointerleave", () => light(null));
  const list = byId("list").tBodies[0];
  const ofRow = (event) => {
    const row = event.target.closest("tr");
    if (!row) return;
    goTo(row.own.look);
    light({ strip: row.own.index, order: row.own.order.id });
  };
  list.addEventListener("pointerover", ofRow);
  list.addEventListener("focusin", ofRow);
  list.addEventListener("click", (event) => {
    ofRow(event);
    if (!state.lit) return;
    const strip = look().strips[state.lit.strip];
    state.turn = turned(strip.middle[0]);
    redraw();
  });
  list.addEventListener("keydown", (event) => {
    const row = event.target.closest("tr");
    const next = { ArrowDown: row.nextElementSibling, ArrowUp: row.previousElementSibling }[event.key];
    if (event.key === "Enter") row.click();
    else if (next) next.focus();
    else return;
    event.preventDefault();
  });
  byId("sheet").addEventListener("change", () => { state.sheet = Number(byId("sheet").value); showSheet(); keep(); });
  byId("sheet-view").addEventListener("pointerover", (event) => {
    const own = event.target.own;
    if (!own) { light(null); return; }
    goTo(own.look);
    light({ strip: own.strip, order: own.order });
  });
  byId("sheet-view").addEventListener("pointerleave", () => light(null));
  window.addEventListener("resize", redraw);
  window.addEventListener("beforeprint", redraw);
}

// Pictures on panels are decoded before the skin is painted with them.
async function readArt() {
  const panels = data.looks.flatMap((each) => each.panels).filter((panel) => panel.image);
  await Promise.all(panels.map(async (panel) => {
    const art = new Image();
    art.src = data.images[panel.image];
    try { await art.decode(); panel.art = art; } catch { panel.art = null; }
  }));
}

async function start() {
  state.units = data.units;
  try { Object.assign(state, JSON.parse(sessionStorage.getItem("stripegen") || "{}"), { lit: null }); } catch { /* none kept */ }
  if (!data.looks.length) { document.querySelector("main").hidden = true; return; }
  if (!data.looks[state.look]) state.look = 0;
  if (!data.sheets[state.sheet]) state.sheet = 0;
  if (!cup.gl) byId("keys").textContent = "This browser can't draw the cup in three dimensions (no WebGL); the flat wall and the lists work.";
  options(byId("look"), data.looks.map((each, number) => [number, `${each.orders.map((order) => order.id).join(", ")}: ${each.cup}, ${each.pattern}`]));
  options(byId("sheet"), data.sheets.map((sheet, number) => [number, `${sheet.name}, ${sheet.pieces.length} pieces`]));
  byId("laid").textContent = data.laid;
  byId("sheet").disabled = !data.sheets.length;
  await readArt();
  showFilters();
  listen();
  showLook();
  showList();
  showSheet();
}

start();
