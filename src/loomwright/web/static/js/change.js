// Post a change from a module, as a form would: the revision goes along, a refusal opens the sheet.

/** Post `fields` to one of the routes under /edit; `element` lies in the part whose revision its author saw. */
export async function post(address, fields, element) {
  await htmx.ajax("POST", address, { values: fields, source: element, target: "#sheet-body", swap: "innerHTML" });
}
