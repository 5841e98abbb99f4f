// Files: the browser reads and saves them, the server only turns text into rigs, targets and fits, and back.

import { post } from "./api.js";
import { plain } from "./state.js";

// Offers a text as a file.
export function save(name, text, kind) {
  const url = URL.createObjectURL(new Blob([text], { type: kind }));
  const link = document.createElement("a");
  link.href = url;
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(url), 1000);
}

// A link may bring any name with it, such as that of a program.
const ended = (name, ending) => (name.toLowerCase().endsWith(ending) ? name : name + ending);

// A log has readings, whatever its name.
const isLog = (text) => /(^|,)\s*"?reading_deg/.test(text.split(/\r?\n/).find((line) => line.trim() !== "" && !line.startsWith("#")) || "");

// FITS files, of which the headers at the beginning are read (FITS standard 4.0, section 3): whole blocks up to the last END.
const [BLOCK, END, MOST] = [2880, "END".padEnd(80), 288000];
const isImage = ({ name }) => /\.(fits?|fts|fz)$/i.test(name);

async function begun(file) {
  const text = new TextDecoder("latin1").decode(await file.slice(0, MOST).arrayBuffer()).replace(/[^ -~]/g, "?");
  const blocks = Math.ceil((text.lastIndexOf(END) + END.length) / BLOCK);
  return { name: plain(file.name), bytes: file.size, head: text.slice(0, blocks * BLOCK) };
}

// `saved(what)` hears that the rig or the targets are as in a file.
export function files(store, sheet, told, saved) {
  const by = (id) => document.getElementById(id);
  const tried = async (work) => {
    try {
      await work();
    } catch (error) {
      told(error.message, true);
    }
  };

  async function take(file) {
    const text = await file.text();
    const name = plain(file.name);
    if (/\.toml$/i.test(name)) {
      const { rig } = await post("rig/read", { name, text });
      store.change(null, (s) => Object.assign(s, { rig, rigText: text, rigName: name }));
      saved("rig");
    } else if (isLog(text)) {
      return sheet.fit(name, text);
    } else {
      const { targets } = await post("targets/read", { name, text });
      store.change(null, (s) => Object.assign(s, { targets, targetsName: name, chosen: 0, targetDeg: targets[0].position_angle_deg }));
      saved("targets");
    }
    told("Opened " + name + ".");
  }
  const takeAll = (list) => tried(async () => {
    const images = list.filter(isImage);
    for (const file of list) if (!images.includes(file)) await take(file);
    if (images.length > 0) sheet.images(await Promise.all(images.map(begun)));
  });

  by("open").addEventListener("click", () => by("file").click());
  by("file").addEventListener("change", async () => {
    await takeAll([...by("file").files]);
    by("file").value = "";
  });
  const carries = (event) => event.dataTransfer?.types.includes("Files");
  document.addEventListener("dragover", (event) => {
    if (!carries(event)) return;
    event.preventDefault();
    document.body.classList.add("dropping");
  });
  document.addEventListener("dragleave", (event) => { if (!event.relatedTarget) document.body.classList.remove("dropping"); });
  document.addEventListener("drop", (event) => {
    document.body.classList.remove("dropping");
    if (!carries(event)) return;
    event.preventDefault();
    takeAll([...event.dataTransfer.files]);
  });
  by("save-rig").addEventListener("click", () => tried(async () => {
    const { rig, rigText, rigName } = store.state;
    const { text } = await post("rig/write", { rig, text: rigText });
    save(ended(rigName || "rig", ".toml"), text, "application/toml");
    saved("rig");
  }));
  by("save-vectors").addEventListener("click", () => tried(async () => save("wrap-vectors.csv", (await post("vectors", null)).text, "text/csv")));
  by("save-targets").addEventListener("click", () => tried(async () => {
    const { targets, targetsName } = store.state;
    const { text } = await post("targets/write", { targets });
    save(ended(targetsName || "targets", ".csv"), text, "text/csv");
    saved("targets");
  }));
}
