// Files: the browser reads and saves them, the server only turns text into rigs and targets and back.

import { post } from "./api.js";

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

async function textOf(input) {
  const file = input.files[0];
  input.value = "";
  return file ? { name: file.name, text: await file.text() } : null;
}

export function files(store, told) {
  const by = (id) => document.getElementById(id);
  const tried = (work) => async () => {
    try {
      await work();
    } catch (error) {
      told(error.message, true);
    }
  };
  by("load-rig").addEventListener("click", () => by("rig-file").click());
  by("load-targets").addEventListener("click", () => by("targets-file").click());
  by("rig-file").addEventListener("change", tried(async () => {
    const file = await textOf(by("rig-file"));
    if (!file) return;
    const { rig } = await post("rig/read", file);
    store.change(null, (s) => { s.rig = rig; s.rigText = file.text; s.rigName = file.name; });
    told("Loaded " + file.name + ".");
  }));
  by("targets-file").addEventListener("change", tried(async () => {
    const file = await textOf(by("targets-file"));
    if (!file) return;
    const { targets } = await post("targets/read", file);
    store.change(null, (s) => { s.targets = targets; s.targetsName = file.name; s.targetDeg = targets[0].position_angle_deg; });
    told("Loaded " + targets.length + " targets of " + file.name + ".");
  }));
  by("save-rig").addEventListener("click", tried(async () => {
    const { rig, rigText, rigName } = store.state;
    const { text } = await post("rig/write", { rig, text: rigText });
    save(rigName, text, "application/toml");
    told("Saved " + rigName + ".");
  }));
  by("save-targets").addEventListener("click", tried(async () => {
    const { targets, targetsName } = store.state;
    const { text } = await post("targets/write", { targets });
    save(targetsName, text, "text/csv");
    told("Saved " + targetsName + ".");
  }));
}
