// The button that prints a paper; without scripts the print command of the browser does the same.

for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
