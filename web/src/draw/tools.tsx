// The bar above the drawing: what pressing on it does, the grid, back and forth.
import type { Desk } from './desk.ts';
import { grids } from './snap.ts';

export type Tool = 'move' | 'point' | 'segment' | 'bend' | 'scale';

const tools: readonly { tool: Tool; words: string; how: string }[] = [
  { tool: 'move', words: 'Choose and move', how: 'Press a thing to choose it, pull a point or a corner to move it, pull the sheet to see another part.' },
  { tool: 'point', words: 'Points', how: 'Press where a tag lies.' },
  { tool: 'segment', words: 'Tape', how: 'Press the points of the tape one after the other, in the way carts drive; where there is none, one is made. Escape ends it.' },
  { tool: 'bend', words: 'Corners', how: 'Press on tape to give it a corner. A segment with one corner can be rounded in the list.' },
  { tool: 'scale', words: 'Picture’s scale', how: 'Press two places of the picture whose distance you know, then type the distance.' },
];

export function Tools(props: { desk: Desk; tool: Tool; setTool(tool: Tool): void; grid: number; setGrid(grid: number): void; picture: boolean }) {
  const { desk, tool, setTool, grid, setGrid, picture } = props;
  return (
    <div class="draw-tools">
      <fieldset class="draw-choice">
        <legend class="unseen">What pressing on the drawing does</legend>
        {tools.filter((one) => one.tool !== 'scale' || picture).map((one) => (
          <label key={one.tool}>
            <input
              type="radio"
              name="tool"
              checked={tool === one.tool}
              data-testid={`tool-${one.tool}`}
              onChange={() => {
                desk.stopLaying();
                setTool(one.tool);
              }}
            />
            <span>{one.words}</span>
          </label>
        ))}
      </fieldset>
      <label class="draw-grid-choice">
        <span>Grid</span>
        <select value={grid} onChange={(event) => setGrid(Number(event.currentTarget.value))} data-testid="grid">
          {grids.map((mm) => (
            <option key={mm} value={mm}>{mm === 1 ? 'none' : `${mm} mm`}</option>
          ))}
        </select>
      </label>
      <button onClick={() => desk.back()} disabled={!desk.undo?.past.length} data-testid="undo">Undo</button>
      <button onClick={() => desk.forth()} disabled={!desk.undo?.future.length} data-testid="redo">Redo</button>
      <p class="draw-how none">{tools.find((one) => one.tool === tool)!.how}</p>
    </div>
  );
}
