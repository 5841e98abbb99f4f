// A report in a frame, which is as high as its page, so that only this page scrolls. A frame that runs scripts could not be measured.

import { showReport } from "./door.js";
import { make } from "./make.js";

export function reader(place, title) {
  const frame = make("iframe", { title, sandbox: "allow-same-origin allow-popups", hidden: true }, place);
  const fit = () => {
    const page = frame.contentDocument?.documentElement;
    if (page) frame.style.height = page.scrollHeight + 4 + "px";
  };
  const dress = () => {
    if (frame.contentDocument) frame.contentDocument.documentElement.dataset.theme = document.documentElement.dataset.theme ?? "";
  };
  new MutationObserver(dress).observe(document.documentElement, { attributeFilter: ["data-theme"] });
  frame.addEventListener("load", () => {
    dress();
    fit();
    frame.contentDocument?.addEventListener("toggle", fit, true);
  });
  // Shows the report of this job.
  return (id) => {
    frame.hidden = false;
    if (frame.dataset.job !== id) showReport(frame, (frame.dataset.job = id));
    fit();
  };
}
