// Takes the words that a person selected in a text over into a field. It fills the field and does
// nothing else; without this script the words are pasted by hand.

for (const button of document.querySelectorAll("[data-take-selection]")) {
  const text = document.getElementById(button.dataset.takeSelection);
  const field = document.getElementById(button.dataset.into);
  if (!text || !field) continue;
  button.hidden = false;
  button.addEventListener("click", () => {
    const selection = getSelection();
    const inside = selection.rangeCount > 0 && text.contains(selection.getRangeAt(0).commonAncestorContainer);
    if (inside && !selection.isCollapsed) {
      const copy = selection.getRangeAt(0).cloneContents();
      for (const code of copy.querySelectorAll("sup")) code.remove();
      field.value = copy.textContent.trim();
    }
    field.focus();
  });
}
