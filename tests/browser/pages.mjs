// Every page that is reached by its address alone, as a lead of the demo sees it. The list of
// routes in src/web/lib.rs is the measure: a page that is missing here is not looked at.

/** A kind's folder and one code of it in the demo. */
export const KINDS = {
  flights: "G-36",
  worksites: "W-KEEL4",
  families: "F-CASSETTE",
  positions: "C-14",
  units: "U-PMP1",
  techniques: "K-LEVER",
  tools: "L-010",
  excursions: "E-36.2",
  tasks: "T-0142",
  links: "J-001",
  slots: "S-0152",
  attempts: "A-0067",
  deferrals: "D-0010",
  closures: "Z-001",
  parkings: "B-001",
  reopenings: "Y-001",
  causes: "1",
  findings: "N-007",
  remedies: "R-009",
  exemptions: "X-001",
  "declined-offers": "DO-001",
  revisions: "K-LEVER.3",
  rehearsals: "H-001",
  qualifications: "QU-001",
  inhibits: "I-003",
  arrangements: "AR-001",
  outside: "O-07",
  "excursion-tools": "M-001",
  routes: "Q-01",
};

/** Kinds that are read beside another kind. */
const WITHOUT_LIST = ["remedies"];

const forms = Object.entries(KINDS).flatMap(([folder, code]) => [
  ...(WITHOUT_LIST.includes(folder) ? [] : [`/${folder}`]),
  `/${folder}/${code}`,
  `/${folder}/new`,
]);

/** Pages with something asked of them, and those of no kind of record. */
const others = [
  "/",
  "/open",
  "/open?q=cassette&sort=carry",
  "/open?in_danger=yes",
  "/open?state=done",
  "/open?q=nothing+is+called+so",
  "/search",
  "/search?q=casette",
  "/search?q=nothing+is+called+so&among=findings",
  "/techniques/K-LEVER/compare?a=1&b=3",
  "/techniques/K-WRAP/revise",
  "/open?paper=yes",
  "/files/FI-001",
  "/files/FI-001/edit",
  "/files/FI-005",
  "/files/new?attempt=A-0047",
  "/files/new",
  "/search",
  "/search?q=hinge+pin",
  "/search?q=nothing+is+called+so",
  "/history",
  "/history?q=bolt",
  "/history?q=nothing+is+called+so",
  "/changes",
  "/import",
  "/settings",
  "/account",
  "/held",
  "/tasks/T-0142/edit",
  "/excursions/E-36.2/edit",
  "/attempts/A-0067/edit",
  "/tasks/T-0118",
  "/tasks/T-0127",
  "/tasks/T-0101",
  "/tasks/T-0137",
  "/tasks/T-0165",
  "/tasks/T-0168",
  "/tasks/T-0171",
  "/excursions/E-35.4",
  "/excursions/E-36.3",
  "/excursions/E-36.3/debrief",
  "/excursions/E-37.1",
  "/excursions/E-37.3",
  "/excursions/E-39.1",
  "/flights/G-37",
  "/findings?show=all",
  "/findings?show=reopened",
  "/findings?step=verify+a+remedy&overdue=yes",
  "/findings/causes",
  "/findings/causes?by=technique&group=fasteners",
  "/findings/causes?by=flight",
  "/findings/causes?cause=nothing",
  "/findings/N-008",
  "/findings/N-009",
  "/findings/N-014",
  "/families/F-HINGE",
  "/attempts/new?task=T-0142",
  "/findings/new?attempt=A-0113",
  "/slots?cell=T-0142:E-37.2",
  "/slots?cell=T-0142:E-37.2&by=K-LEVER,nadir",
  "/slots?cell=T-0153:E-37.1",
  "/slots?gate=time",
];

export const PAGES = [...new Set([...forms, ...others])];

/** What only an administrator keeps. */
export const OF_ADMINISTRATOR = ["/people", "/causes/1/edit"];

/** Addresses that are answered with a page of trouble. */
export const REFUSED = { "/nothing/here": 404, "/tasks/T-9999": 404, "/people": 403 };
