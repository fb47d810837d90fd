// The service behind the proxy of the compose file: TLS ends there, and each client has a limit of its own.

import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import fs from "node:fs";
import https from "node:https";
import os from "node:os";
import path from "node:path";
import tls from "node:tls";
import { after, before, test } from "node:test";
import { fileURLToPath } from "node:url";
import { serve } from "./service.mjs";

const CONFIG = fileURLToPath(new URL("../../docs/proxy/Caddyfile", import.meta.url));
const PORT = 20000 + (process.pid % 20000);
let service, proxy, home;

/** One request from a client's own address; `jar` keeps its cookies. */
const ask = (method, where, { from, jar, form, headers = {} }) =>
  new Promise((done, failed) => {
    const body = form ? new URLSearchParams(form).toString() : "";
    const cookie = [...jar].map(([name, value]) => `${name}=${value}`).join("; ");
    const sent = { ...headers, cookie, ...(form && { "content-type": "application/x-www-form-urlencoded", "sec-fetch-site": "same-origin" }) };
    const options = { host: "127.0.0.1", port: PORT, servername: "localhost", method, path: where, localAddress: from, rejectUnauthorized: false };
    const request = https.request({ ...options, headers: { host: `localhost:${PORT}`, ...sent } }, (reply) => {
      for (const line of reply.headers["set-cookie"] ?? []) jar.set(...line.split(";")[0].split(/=(.*)/s).slice(0, 2));
      let text = "";
      reply.on("data", (piece) => (text += piece)).on("end", () => done({ status: reply.statusCode, headers: reply.headers, text }));
    });
    request.on("error", failed).end(body);
  });

const csrf = (page) => page.text.match(/name="csrf" value="([^"]*)"/)[1];

/** Tries to sign in from that address, saying it were another. */
async function signIn(from, name, password) {
  const jar = new Map();
  const page = await ask("GET", "/sign-in", { from, jar });
  const headers = { "x-forwarded-for": `198.51.100.${Math.floor(Math.random() * 250)}` };
  return ask("POST", "/sign-in", { from, jar, headers, form: { csrf: csrf(page), name, password } });
}

before(async () => {
  service = await serve({ settings: ["--trusted-proxies", "127.0.0.1", "--secure-cookies", "yes"] });
  home = fs.mkdtempSync(path.join(os.tmpdir(), "holdover-proxy-"));
  const env = { ...process.env, HOME: home, XDG_DATA_HOME: home, HOLDOVER_PORT: PORT, HOLDOVER_UPSTREAM: new URL(service.base).host };
  proxy = spawn("caddy", ["run", "--adapter", "caddyfile", "--config", CONFIG], { env, stdio: "ignore" });
  for (let tries = 0; ; tries++) {
    const page = await ask("GET", "/sign-in", { from: "127.0.0.2", jar: new Map() }).catch((cause) => cause);
    if (page.status === 200) break;
    assert.ok(tries < 100, `the proxy does not answer: ${page.message ?? page.status}`);
    await new Promise((later) => setTimeout(later, 100));
  }
});

after(async () => {
  proxy?.kill();
  await service?.stop();
  fs.rmSync(home, { recursive: true, force: true });
});

test("wrong passwords of one client behind the proxy make no other client wait", async () => {
  const { name, password } = service.people.lead;
  const statuses = [];
  for (let n = 0; n < 8; n++) statuses.push((await signIn("127.0.0.2", name, "wrong")).status);
  assert.deepEqual(statuses, [401, 401, 401, 401, 401, 429, 429, 429], "what the client says of its address counts for nothing");
  assert.equal((await signIn("127.0.0.3", name, password)).status, 303);
});

/** The version of TLS that the proxy agrees to when it is offered these alone. */
const agreed = (version) =>
  new Promise((done, failed) => {
    // At the level that would still offer the old ones, so that it is the proxy that refuses.
    const offer = { minVersion: version, maxVersion: version, ciphers: "DEFAULT@SECLEVEL=0" };
    const socket = tls.connect({ host: "127.0.0.1", port: PORT, servername: "localhost", rejectUnauthorized: false, ...offer }, () => {
      done(socket.getProtocol());
      socket.destroy();
    });
    socket.on("error", failed);
  });

test("the proxy speaks TLS 1.2 and 1.3 and nothing older", async () => {
  assert.equal(await agreed("TLSv1.3"), "TLSv1.3");
  assert.equal(await agreed("TLSv1.2"), "TLSv1.2");
  for (const old of ["TLSv1", "TLSv1.1"]) await assert.rejects(agreed(old), /alert protocol version|alert number 70|protocol version/i, old);
});

test("behind TLS the cookies are bound to the host and the browser is told to stay with TLS", async () => {
  const page = await ask("GET", "/sign-in", { from: "127.0.0.2", jar: new Map() });
  assert.match(page.headers["set-cookie"][0], /^__Host-holdover-visit=.*Secure/);
  assert.match(page.headers["strict-transport-security"], /max-age=31536000/);
});
