// Figures of a made-up day, as server/net/API.md has them.

const hour = 3_600_000;

export function noFigures() {
  const from = new Date(new Date().setHours(0, 0, 0, 0));
  const hours = Array.from({ length: 24 }, (_, i) => ({ from: new Date(from.getTime() + i * hour).toISOString(), delivered: 0, lead_s: null }));
  return {
    from: from.toISOString(), to: new Date(from.getTime() + 24 * hour).toISOString(), time: new Date().toISOString(),
    kept_since: null, delivered: 0, lead_s: null, hours,
    due: { jobs: 0, on_time: 0, late: 0, overdue: 0, to_come: 0, ended_otherwise: 0 },
    late_jobs: [], carts: [], merges: [], tags: [],
  };
}

/** A day with something of everything. */
export function someFigures() {
  const figures = noFigures();
  figures.kept_since = new Date(Date.parse(figures.from) + hour).toISOString();
  figures.delivered = 41;
  figures.lead_s = { median: 300, p90: 742 };
  for (const [hourOfDay, delivered] of [[6, 9], [7, 14], [8, 18]]) {
    figures.hours[hourOfDay].delivered = delivered;
    figures.hours[hourOfDay].lead_s = { median: 240 + 30 * delivered, p90: 400 + 40 * delivered };
  }
  figures.due = { jobs: 9, on_time: 5, late: 1, overdue: 1, to_come: 1, ended_otherwise: 1 };
  const due = new Date(Date.parse(figures.from) + 7 * hour).toISOString();
  figures.late_jobs = [
    { id: 31, from: 'GLAZE', to: 'PACK', due, delivered: null, late_s: 1_500 },
    { id: 28, from: 'CAST', to: 'DRY', due, delivered: figures.time, late_s: 95 },
  ];
  const times = (cart, moving_s, waiting_s, out_s) => ({ cart, moving_s, waiting_s, handling_s: 1_200, charging_s: 300, idle_s: 600, out_s });
  figures.carts = [times('cart-1', 5_000, 1_600, 0), times('cart-2', 4_000, 800, 2_000)];
  figures.merges = [{ point: 'P10', waits: 12, waited_s: 1_500 }, { point: 'P3', waits: 3, waited_s: 95 }, { point: 'P1', waits: 0, waited_s: 0 }];
  figures.tags = [{ point: 'P3', read: 76, missed: 4 }, { point: 'P9', read: 99, missed: 1 }, { point: 'P1', read: 80, missed: 0 }];
  return figures;
}
