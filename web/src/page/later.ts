// What a page can do without in its first picture.
import { useEffect, useState } from 'preact/hooks';

/** False until the first picture has been painted: a phone is shown the floor a third of a second
 *  sooner when the lists below it come after (tests/bench/pages). */
export function useLater(): boolean {
  const [later, setLater] = useState(false);
  useEffect(() => {
    const frame = requestAnimationFrame(() => setTimeout(() => setLater(true)));
    return () => cancelAnimationFrame(frame);
  }, []);
  return later;
}
