// Below the drawing: plays the carts of a try-out, and says what each does at the moment shown.
import { useEffect, useState } from 'preact/hooks';
import { nameOf } from '../carts/identity.ts';
import type { Tried } from './desk.ts';
import { runClockWords, doingWords, wishWords } from './words.ts';

const speeds = [1, 5, 20];
/** The bar follows the carts so often, ms: the eye is on the drawing. */
const follow = 200;

export function WatchBar({ tried, onHide }: { tried: Tried; onHide(): void }) {
  const { playback, wish, letter } = tried;
  const [, draw] = useState(0);
  useEffect(() => {
    let last = 0;
    let speed = playback.speed;
    return playback.watch(() => {
      const now = performance.now();
      if (playback.speed !== 0 && playback.speed === speed && now - last < follow) return;
      last = now;
      speed = playback.speed;
      draw((n) => n + 1);
    });
  }, [playback]);
  const at = runClockWords(playback.at);
  const end = runClockWords(playback.end);
  return (
    <section class="panel tryout-watch" aria-labelledby="watch-title" data-testid="watch">
      <h2 id="watch-title">Watch the try-out</h2>
      <p class="none">
        Drawing {letter}: {wishWords(wish)}. Its first {Math.round(playback.end / 60_000)} min; simulated, not the works.
      </p>
      <div class="tryout-controls" role="group" aria-label="Play">
        {speeds.map((speed) => (
          <button
            key={speed}
            aria-pressed={playback.speed === speed}
            data-testid={`watch-${speed}`}
            onClick={() => (playback.speed === speed ? playback.pause() : playback.play(speed))}
          >
            {playback.speed === speed ? 'Pause' : `Play ${speed}×`}
          </button>
        ))}
        <button class="quiet" onClick={onHide} data-testid="watch-hide">Take it off the drawing</button>
      </div>
      <label class="tryout-slider">
        <span>Minute {at} of {end}</span>
        <input
          type="range"
          min={0}
          max={playback.end}
          step={1_000}
          value={playback.at}
          aria-valuetext={`Minute ${at}`}
          data-testid="watch-slider"
          onInput={(event) => playback.goTo(Number(event.currentTarget.value))}
        />
      </label>
      <ul class="tryout-doing" data-testid="watch-doing">
        {playback.carts().map(({ cart, seen }) => (
          <li key={cart}>
            {nameOf(cart)} {doingWords(seen.doing)}
          </li>
        ))}
      </ul>
    </section>
  );
}
