// The report: says when it was made, lets settings be copied, and puts the player where the example loop stands. Without
// script its pictures and its table say the same.
(function (H) {
  "use strict";
  const made = document.getElementById("made");
  if (made) made.textContent = ", made on " + new Date(document.lastModified).toLocaleDateString(undefined, { dateStyle: "long" });
  for (const lines of navigator.clipboard ? document.querySelectorAll("pre.copy") : []) {
    const text = lines.textContent;
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = "Copy";
    button.addEventListener("click", () => navigator.clipboard.writeText(text).then(() => { button.textContent = "Copied"; }));
    lines.append(button);
  }
  const place = document.getElementById("player");
  if (!place) return;
  const loops = Array.from(document.querySelectorAll("script[data-loop]"), (block) => ({
    label: block.dataset.loop,
    data: JSON.parse(block.textContent),
  }));
  if (loops.length === 0) return;
  const choice = document.createElement("div");
  const stage = document.createElement("div");
  place.append(choice, stage);
  const player = H.mount(stage, loops[0].data);
  if (loops.length < 2) return;
  choice.className = "choice";
  choice.setAttribute("role", "group");
  choice.setAttribute("aria-label", "Which settings to replay");
  const buttons = loops.map((loop) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = loop.label;
    button.addEventListener("click", () => {
      player.load(loop.data);
      mark(button);
    });
    choice.append(button);
    return button;
  });
  function mark(chosen) {
    for (const button of buttons) button.setAttribute("aria-pressed", String(button === chosen));
  }
  mark(buttons[0]);
})(window.HalfturnPlayer);
