// The report: puts the player where the example loop stands. Without script its pictures and its table say the same.
(function (H) {
  "use strict";
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
