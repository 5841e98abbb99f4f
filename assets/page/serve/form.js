// A form in a row: its fields, its button, and why what it asks for can't be done.

import { make } from "./make.js";

// The form, and what makes its fields.
export function asking(box) {
  const form = make("form", { class: "row" }, box);
  return [form, (title, attributes) => make("input", { required: true, ...attributes }, make("label", {}, form, title + " "))];
}

// Its button, and what that does. Why it can't stands below the form.
export function answered(form, attributes, title, work) {
  make("button", { class: "main", ...attributes }, form, title);
  const wrong = make("p", { class: "fault", role: "alert" }, form.parentNode);
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    wrong.textContent = "";
    try {
      await work();
    } catch (error) {
      wrong.textContent = error.message;
    }
  });
}
