// Labels of the drawings of a page that cover each other, as a browser lays them out.

/** Pairs of labels of one drawing that cover each other, by their words. */
export const overlaps = (page) =>
  page.evaluate(() => {
    const found = [];
    for (const svg of document.querySelectorAll("main svg")) {
      const labels = [...svg.querySelectorAll("text")]
        .filter((text) => text.textContent.trim() && text.checkVisibility())
        .map((text) => ({ words: text.textContent, box: text.getBoundingClientRect() }))
        .filter(({ box }) => box.width > 0);
      labels.forEach((one, at) => {
        for (const other of labels.slice(at + 1)) {
          const wide = Math.min(one.box.right, other.box.right) - Math.max(one.box.left, other.box.left);
          const high = Math.min(one.box.bottom, other.box.bottom) - Math.max(one.box.top, other.box.top);
          // Boxes are as high as the line; letters leave a quarter of it free.
          const least = Math.min(one.box.height, other.box.height);
          if (wide > 1 && high > 0.3 * least) found.push(`“${one.words}” and “${other.words}” by ${wide.toFixed(1)} × ${high.toFixed(1)}`);
        }
      });
    }
    return found;
  });

/** Labels of one drawing through whose letters a stroke runs: a line of work, a bracket, a route. */
export const underLines = (page) =>
  page.evaluate(() => {
    const found = [];
    for (const svg of document.querySelectorAll("main svg")) {
      const labels = [...svg.querySelectorAll("text")].filter((text) => text.textContent.trim() && text.checkVisibility());
      const boxes = labels.map((text) => {
        const { left, right, top, bottom, width } = text.getBoundingClientRect();
        // Of a box as high as the line, the letters take the middle half.
        const quarter = (bottom - top) / 4;
        return { text, words: text.textContent, left, right, top: top + quarter, bottom: bottom - quarter, width };
      }).filter(({ width }) => width > 0);
      if (boxes.length === 0) continue;
      for (const stroke of svg.querySelectorAll("path.ln, path.la, path.need-bar, path.no-line, path.go, path.axis, path.b-if, path.b-dim, path.now")) {
        // Over a line that was drawn before it, a label with a rim of the ground is read all the same.
        // So is one in a box that was drawn over the line.
        const over = (text) => (text.matches(".halo") || text.parentElement.querySelector("path.work")) && stroke.compareDocumentPosition(text) & Node.DOCUMENT_POSITION_FOLLOWING;
        const shown = svg.getBoundingClientRect(), place = stroke.getScreenCTM(), long = stroke.getTotalLength();
        if (!place || !stroke.checkVisibility()) continue;
        const hit = new Set();
        for (let at = 0; at <= long; at += 2) {
          const { x, y } = stroke.getPointAtLength(at).matrixTransform(place);
          if (x < shown.left || x > shown.right) continue;
          for (const box of boxes) if (x > box.left + 1 && x < box.right - 1 && y > box.top && y < box.bottom && !over(box.text)) hit.add(box.words);
        }
        for (const words of hit) found.push(`“${words}” under a ${stroke.classList[0]}`);
      }
    }
    return found;
  });
