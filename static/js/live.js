// Search as you type: a form with data-live asks for its page again while a person types, and
// every element with data-live-part takes the place of its namesake. The address follows, so that
// what is shown can be shared; without this script the form works by its button.

const WAIT = 220;

function address(form) {
  const query = new URLSearchParams();
  for (const [name, value] of new FormData(form)) {
    if (typeof value === "string" && value !== "") query.append(name, value);
  }
  const url = new URL(form.action);
  url.search = query;
  return url;
}

function take(page) {
  for (const part of document.querySelectorAll("[data-live-part]")) {
    const name = CSS.escape(part.dataset.livePart);
    const fresh = page.querySelector(`[data-live-part="${name}"]`);
    if (fresh) part.replaceWith(document.adoptNode(fresh));
  }
  const said = page.querySelector("[data-live-status]");
  const status = document.querySelector("[data-live-status]");
  if (said && status) status.textContent = said.textContent;
  document.title = page.title;
  document.dispatchEvent(new Event("parts-taken"));
}

function watch(form) {
  let timer, request, shown = address(form).href;

  function ask() {
    const url = address(form);
    if (url.href === shown) return;
    request?.abort();
    // This request parses the answer itself and runs nothing in it; text never becomes markup here.
    request = new XMLHttpRequest();
    request.open("GET", url);
    request.responseType = "document";
    const parts = document.querySelectorAll("[data-live-part]");
    for (const part of parts) part.setAttribute("aria-busy", "true");
    request.onload = () => {
      const page = request.response;
      const elsewhere = new URL(request.responseURL).pathname !== url.pathname;
      // Signed out, refused or broken: show that page itself.
      if (!page || elsewhere || request.status !== 200) return location.assign(url);
      shown = url.href;
      take(page);
      history.replaceState(null, "", url);
    };
    request.onerror = () => {
      for (const part of parts) part.removeAttribute("aria-busy");
      const status = document.querySelector("[data-live-status]");
      if (status) status.textContent = "No answer from the server; the list is as it was.";
    };
    request.send();
  }

  form.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(ask, WAIT);
  });
  form.addEventListener("submit", () => {
    clearTimeout(timer);
    request?.abort();
  });
}

for (const form of document.querySelectorAll("form[data-live]")) watch(form);
