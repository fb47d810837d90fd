// The main uses, as people walk them: once with the small scripts and once without, on a demo of
// its own each time.

import { after, before, suite } from "node:test";
import { backlog } from "./journeys/backlog.mjs";
import { debrief } from "./journeys/debrief.mjs";
import { evidence } from "./journeys/evidence.mjs";
import { failures } from "./journeys/failures.mjs";
import { forms } from "./journeys/forms.mjs";
import { outside } from "./journeys/outside.mjs";
import { library } from "./journeys/library.mjs";
import { slots } from "./journeys/slots.mjs";
import { walker } from "./walker.mjs";

for (const scripts of [true, false]) {
  suite(scripts ? "with scripts" : "without scripts", () => {
    let walk;
    before(async () => (walk = await walker(scripts, ["lead", "engineer"])));
    after(() => walk?.stop());
    for (const journeys of [backlog, failures, evidence, library, slots, outside, debrief, forms]) journeys(() => walk);
  });
}
