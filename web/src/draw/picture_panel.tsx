// The floor-plan picture: chosen, laid, its scale typed, taken away.
import { useState } from 'preact/hooks';
import { NumberField } from './fields.tsx';
import type { PictureDesk } from './picture_desk.ts';

export function PicturePanel({ picture }: { picture: PictureDesk }) {
  const [length, setLength] = useState<number | undefined>(undefined);
  const { laid, marks, trouble } = picture;
  return (
    <details class="panel" data-testid="picture">
      <summary>Picture of the floor plan under the drawing</summary>
      <p class="none">It stays in this browser: it is neither sent to the service nor saved with the draft.</p>
      <label class="field">
        <span>Picture</span>
        <input
          type="file"
          accept="image/*"
          data-testid="picture-file"
          onChange={(event) => {
            const [file] = event.currentTarget.files ?? [];
            if (file) void picture.take(file);
          }}
        />
      </label>
      {trouble && <p class="outcome bad" role="status">{trouble}</p>}
      {laid && (
        <>
          <p>{marks.length === 2 ? 'Two places are marked.' : 'To set its scale, take “Picture’s scale” above the drawing and press two places of it.'}</p>
          <form
            class="draw-pair"
            onSubmit={(event) => {
              event.preventDefault();
              // Enter sends the form before what was typed has come round.
              const typed = event.currentTarget.querySelector('input')?.valueAsNumber ?? NaN;
              if (picture.setScale(typed * 1_000)) setLength(undefined);
            }}
          >
            <NumberField label="They are apart, m" value={length} testId="scale-length" least={0.01} set={setLength} />
            <button type="submit" disabled={marks.length !== 2} data-testid="scale-set">Set the scale</button>
          </form>
          <div class="draw-pair">
            <NumberField label="Left edge at x, mm" value={Math.round(laid.at[0])} testId="picture-x" set={(x) => picture.move({ ...laid, at: [x!, laid.at[1]] })} />
            <NumberField label="Upper edge at y, mm" value={Math.round(laid.at[1])} testId="picture-y" set={(y) => picture.move({ ...laid, at: [laid.at[0], y!] })} />
          </div>
          <p class="none" data-testid="picture-size">{((laid.width * laid.mmPerPx) / 1_000).toFixed(2)} m across</p>
          <button onClick={() => picture.drop()} data-testid="picture-drop">Take the picture away</button>
        </>
      )}
    </details>
  );
}
