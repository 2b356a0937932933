// The fleet of the fake service (server/net/API.md, "The fleet"): adds carts with a key that is
// always the same, and takes them out.

const key = '7K3Q-0WZT-9MXC-4HDP-J6RB-2VNE-8GYS';

/** Answers for that service; gives the list, as it is kept. */
export function serveFleet(service) {
  const fleet = [...service.carts.keys()].map((id, k) => ({ id, home: k ? null : 'P11', key_in_clear: k === 0 }));
  const before = service.answer;
  service.answer = (method, path, body, headers) => {
    const [, , kind, id, what] = path.split('/');
    if (kind !== 'fleet') return before(method, path, body, headers);
    if (method === 'GET') return { status: 200, body: { carts: fleet } };
    if (!id) {
      const home = body.home ?? null;
      fleet.push({ id: body.id, home, key_in_clear: false });
      return { status: 201, body: { id: body.id, home, key } };
    }
    if (what === 'key') return { status: 200, body: { id, key } };
    fleet.splice(fleet.findIndex((cart) => cart.id === id), 1);
    return { status: 204 };
  };
  return fleet;
}
