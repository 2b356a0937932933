// What the pages before the door have in common.
import type { ComponentChildren } from 'preact';
import { useEffect } from 'preact/hooks';

export function DoorFrame({ title, children }: { title: string; children: ComponentChildren }) {
  useEffect(() => {
    document.title = `${title}, Tagline`;
  }, [title]);
  return (
    <main class="door">
      <section class="panel" aria-labelledby="door-title">
        <p class="door-name">Tagline</p>
        <h1 id="door-title">{title}</h1>
        {children}
      </section>
    </main>
  );
}
