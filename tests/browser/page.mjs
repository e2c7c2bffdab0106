// Drives a page in headless Chromium through the DevTools protocol over a pipe, and prints what it saw as JSON.
// usage: node page.mjs CHROMIUM PAGE.html [SCREENSHOTS or -] [AXE.js or -]
import { spawn } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";

const [chromium, page, screenshots = "-", axe = "-"] = process.argv.slice(2);
const profile = mkdtempSync(join(tmpdir(), "page-"));
const browser = spawn(
  chromium,
  ["--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run", "--remote-debugging-pipe", `--user-data-dir=${profile}`],
  { stdio: ["ignore", "ignore", "ignore", "pipe", "pipe"] },
);
// A browser that cannot start here at all (no fonts, no memory, no permission) is as good as none.
const NO_BROWSER = 77;
let started = false;
let finished = false;
function gone(why) {
  if (finished) return;
  console.error(why);
  process.exit(started ? 1 : NO_BROWSER);
}
browser.on("error", (error) => gone(`the browser did not start: ${error.message}`));
browser.on("exit", (code) => gone(`the browser ended by itself with ${code}`));
browser.stdio[3].on("error", (error) => gone(`the browser does not listen: ${error.message}`));
const patience = setTimeout(() => gone("the browser said nothing for half a minute"), 30_000);
let number = 0;
let rest = "";
const waiting = new Map();
const listeners = new Map();
const errors = [];
const dialogs = [];
browser.stdio[4].on("data", (bytes) => {
  const pieces = (rest + bytes.toString("utf8")).split("\0");
  rest = pieces.pop();
  started = true;
  clearTimeout(patience);
  for (const piece of pieces) {
    const message = JSON.parse(piece);
    if (message.id !== undefined) {
      const { resolve, reject } = waiting.get(message.id);
      waiting.delete(message.id);
      if (message.error) reject(new Error(message.error.message));
      else resolve(message.result);
    } else {
      seen(message);
    }
  }
});

function seen({ method, params }) {
  if (method === "Runtime.exceptionThrown") errors.push(JSON.stringify(params.exceptionDetails));
  if (method === "Log.entryAdded" && params.entry.level === "error") errors.push(params.entry.text);
  if (method === "Runtime.consoleAPICalled" && params.type === "error") errors.push(JSON.stringify(params.args));
  if (method === "Page.javascriptDialogOpening") dialogs.push(params.message);
  if (listeners.has(method)) listeners.get(method)();
}

let session;
function ask(method, params = {}) {
  number += 1;
  const id = number;
  const answer = new Promise((resolve, reject) => waiting.set(id, { resolve, reject }));
  browser.stdio[3].write(JSON.stringify({ id, method, params, sessionId: session }) + "\0");
  return answer;
}

async function run(expression) {
  const { result, exceptionDetails } = await ask("Runtime.evaluate", { expression, returnByValue: true, awaitPromise: true });
  if (exceptionDetails) throw new Error(JSON.stringify(exceptionDetails));
  return result.value;
}

async function press(key, times) {
  for (let index = 0; index < times; index += 1) {
    const code = { ArrowLeft: 37, ArrowRight: 39, Enter: 13, Home: 36 }[key];
    const text = key === "Enter" ? "\r" : undefined;
    await ask("Input.dispatchKeyEvent", { type: "keyDown", key, code: key, windowsVirtualKeyCode: code, text });
    await ask("Input.dispatchKeyEvent", { type: "keyUp", key, code: key, windowsVirtualKeyCode: code });
  }
}

async function resize(width, height, mobile) {
  await ask("Emulation.setDeviceMetricsOverride", { width, height, deviceScaleFactor: 1, mobile });
}

async function shoot(name) {
  if (screenshots === "-") return;
  const { data } = await ask("Page.captureScreenshot", { format: "png", captureBeyondViewport: true });
  writeFileSync(join(screenshots, `${name}.png`), Buffer.from(data, "base64"));
}

const state = `({
  before: document.getElementById("curve-before").getAttribute("d"),
  after: document.getElementById("curve-after").getAttribute("d"),
  readout: document.getElementById("readout").textContent,
  volume: document.getElementById("volume").getAttribute("aria-valuetext"),
})`;
const column = (index) => `Array.from(document.querySelectorAll("table.sorts")[0].tBodies[0].rows, (row) => row.children[${index}].textContent)`;

async function drive() {
  const { targetId } = await ask("Target.createTarget", { url: "about:blank" });
  session = (await ask("Target.attachToTarget", { targetId, flatten: true })).sessionId;
  for (const domain of ["Page", "Runtime", "Log"]) await ask(`${domain}.enable`);
  await resize(1280, 900, false);
  const loaded = new Promise((resolve) => listeners.set("Page.loadEventFired", resolve));
  await ask("Page.navigate", { url: pathToFileURL(page).href });
  await loaded;
  const report = { title: await run("document.querySelector('h1').textContent"), images: await run("document.images.length") };
  report.requests = await run("performance.getEntriesByType('resource').length");
  await shoot("1280");

  report.first = await run(state);
  await run("document.getElementById('volume').focus()");
  await press("ArrowLeft", 10);
  report.turned = await run(state);

  report.readouts = [];
  for (const [volume, tone, frequency] of [[100, 100, 100], [50, 100, 160], [37, 64, 130], [8, 3, 90], [83, 0, 120], [62, 97, 183]]) {
    await run(`for (const [id, value] of [["volume", ${volume}], ["tone", ${tone}], ["frequency", ${frequency}]]) {
      document.getElementById(id).value = String(value);
      document.getElementById(id).dispatchEvent(new Event("input", { bubbles: true }));
    }`);
    report.readouts.push((await run(state)).readout);
  }
  const box = await run("(() => { const box = document.getElementById('curves').getBoundingClientRect(); return [box.left, box.top, box.width, box.height]; })()");
  await run("document.getElementById('curves').scrollIntoView()");
  const top = await run("document.getElementById('curves').getBoundingClientRect().top");
  await ask("Input.dispatchMouseEvent", { type: "mouseMoved", x: box[0] + box[2] / 3, y: top + box[3] / 2 });
  report.hovered = (await run(state)).readout;

  await run("document.querySelector('input[name=show][value=before]').click()");
  report.onlyBefore = await run(state);
  await run("document.querySelector('input[name=show][value=both]').click()");
  report.choices = await run("Array.from(document.getElementById('after').options, (option) => option.textContent)");
  await run("(() => { const after = document.getElementById('after'); after.selectedIndex = after.options.length - 1; after.dispatchEvent(new Event('change')); })()");
  report.other = await run(state);

  report.headers = await run("Array.from(document.querySelectorAll('table.sorts')[0].querySelectorAll('thead th'), (cell) => cell.textContent)");
  const margin = report.headers.indexOf("dB to spare");
  await run(`document.querySelectorAll("table.sorts")[0].querySelectorAll("thead button")[${margin}].focus()`);
  report.sorted = [];
  for (let time = 0; time !== 2; time += 1) {
    await press("Enter", 1);
    report.sorted.push({
      cells: await run(column(margin)),
      says: await run(`document.querySelectorAll("table.sorts")[0].querySelectorAll("thead th")[${margin}].getAttribute("aria-sort")`),
    });
  }

  await resize(390, 844, true);
  report.widths = await run("[document.documentElement.scrollWidth, window.innerWidth]");
  await shoot("390");
  await ask("Emulation.setEmulatedMedia", { features: [{ name: "prefers-color-scheme", value: "dark" }] });
  await shoot("390-dark");
  await resize(1280, 900, false);
  await shoot("1280-dark");
  if (axe !== "-") {
    const look = async () => {
      const found = await run("axe.run().then((result) => result.violations.map((item) => ({ id: item.id, impact: item.impact, nodes: item.nodes.map((node) => node.html.slice(0, 200)) })))");
      return found;
    };
    await run(readFileSync(axe, "utf8") + "; 0");
    report.axe = { dark: await look() };
    await ask("Emulation.setEmulatedMedia", { features: [{ name: "prefers-color-scheme", value: "light" }] });
    report.axe.light = await look();
  }
  await ask("Emulation.setEmulatedMedia", { media: "print" });
  await resize(794, 1123, false);
  await shoot("print");
  report.errors = errors;
  report.dialogs = dialogs;
  return report;
}

const clock = setTimeout(() => browser.kill("SIGKILL"), 110_000);
try {
  console.log(JSON.stringify(await drive()));
} finally {
  finished = true;
  clearTimeout(clock);
  clearTimeout(patience);
  waiting.clear();
  browser.kill();
  await new Promise((resolve) => setTimeout(resolve, 300));
  rmSync(profile, { recursive: true, force: true, maxRetries: 5 });
}
