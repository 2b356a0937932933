// Who is signed in, and what that role may do: the service decides (server/access/action.hpp); the
// page only leaves out what would be refused.
import type { Role } from '../api/types.ts';

const roles: readonly Role[] = ['viewer', 'operator', 'supervisor', 'builder'];

/** Whether `role` may do what `least` may: each role includes those before it. */
export const reaches = (role: Role, least: Role) => roles.indexOf(role) >= roles.indexOf(least);

export const roleWords: Record<Role, string> = {
  viewer: 'Viewer',
  operator: 'Operator',
  supervisor: 'Supervisor',
  builder: 'Builder',
};

export const roleMay: Record<Role, string> = {
  viewer: 'looks only',
  operator: 'asks for jobs, cancels them, stops carts',
  supervisor: 'also releases, places and removes carts, and closes track',
  builder: 'also lets people and machines in, and draws the floor',
};

export const allRoles = roles;
