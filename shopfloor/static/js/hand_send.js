// Sends a sheet to be checked and saved. The key stays the same until the server has answered, so that a request sent
// again after a broken line counts once.
import { freshKey } from "./request_key.js";

let key = freshKey();

// What the server answers: { next } where it is saved, else { message }.
export async function send(address, csrf, sheet) {
  const headers = { "Content-Type": "application/json", "X-CSRFToken": csrf };
  let answer = {};
  try {
    const response = await fetch(address, { method: "POST", headers, body: JSON.stringify({ key, ...sheet }) });
    if (response.headers.get("Content-Type")?.includes("json")) answer = await response.json();
    if (response.status < 500) key = freshKey();
  } catch {
    return { message: "The server does not answer. Nothing is lost: try again in a moment." };
  }
  return { message: "The server could not save this. Try again; if it stays, reload the page.", ...answer };
}
