// While a job is edited: the page is loaded anew when it was drawn anew, and what is wrong is shown meanwhile.

async function look_again() {
  const fault = byId("fault");
  let told = "The page is no longer kept up: the command that drew it has ended.", pause = 2000;
  try {
    const now = await (await fetch("state", { cache: "no-store" })).json();
    if (now.version !== data.version) { keep(); location.reload(); return; }
    told = now.fault;
    pause = 500;
  } catch { /* told above */ }
  fault.hidden = !told;
  fault.textContent = told || "";
  setTimeout(look_again, pause);
}

look_again();
