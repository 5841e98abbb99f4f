// Opens the page that a report holds, in a frame. Its engine starts then.
(function () {
  "use strict";
  const section = document.getElementById("try");
  const button = section.querySelector("button");
  section.hidden = false;
  button.addEventListener("click", () => {
    const page = JSON.parse(document.getElementById("one-file").textContent);
    const frame = document.createElement("iframe");
    frame.title = "Other settings";
    frame.src = URL.createObjectURL(new Blob([page], { type: "text/html" }));
    button.parentNode.replaceWith(frame);
    section.scrollIntoView();
    frame.focus();
  });
})();
