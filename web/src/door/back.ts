// Where to go after signing in: where one was, but only within this service.

export function signInPath(where: { pathname: string; search: string; hash: string }): string {
  const back = where.pathname + where.search + where.hash;
  return back === '/' ? '/sign-in' : `/sign-in?back=${encodeURIComponent(back)}`;
}

/**
 * The path asked for in a sign-in page's address; '/' if it leads elsewhere. A browser reads '//x'
 * and '/\x' as another host, and skips tabs and line ends (WHATWG URL).
 */
export function backOf(search: string): string {
  const back = new URLSearchParams(search).get('back') ?? '/';
  const odd = /[\u0000-\u0020\\]/.test(back);
  return /^\/(?!\/)/.test(back) && !odd && !/^\/(sign-in|setup)\b/.test(back) ? back : '/';
}
