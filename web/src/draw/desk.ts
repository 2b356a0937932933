// What the drawing page knows and does: the file with its undo, what is chosen, the draft's version,
// the findings that belong to what is drawn. Views read it and call it.
import type { Store } from '../page/store.ts';
import { add, addVia, movePoint, newId, remove, rename, rounded, set, setVia } from './edits.ts';
import { find, fromValue, lineOf, type FloorFile, type Kind, type Place, type ThingOf } from './file.ts';
import { office, type Check, type Draft, type Finding } from './office.ts';
import { back, begin, did, forth, pause, type Undo } from './undo.ts';

export interface Chosen {
  kind: Kind;
  id: string;
  /** The corner of a segment's line. */
  via?: number;
}

/** After a change, for as long as somebody goes on drawing, no check is asked for, ms. */
const checkPause = 700;
const again = 1_500;

export class Desk {
  undo: Undo<FloorFile> | null = null;
  chosen: Chosen | null = null;
  /** Where the segment begins that is being laid. */
  laying: string | null = null;
  draft: Draft = { version: 0, saved_by: null, saved_at: null };
  /** What the service has, to know whether anything is unsaved. */
  saved: FloorFile | null = null;
  trouble = '';
  check: Check | null = null;
  /** The findings are about an older drawing; they are being looked at anew. */
  checking = false;
  checkTrouble = '';
  /** The place of a finding that was pressed, mm. */
  shown: Place | null = null;

  private timer: ReturnType<typeof setTimeout> | undefined;
  private asked: FloorFile | null = null;

  constructor(
    private readonly store: Store,
    /** Draws the page anew, at once: what is pulled follows the hand. */
    readonly changed: () => void,
    /** The drawing moves so that this place is seen. */
    public look: (place: Place) => void = () => {},
  ) {}

  get file(): FloorFile | null {
    return this.undo?.now ?? null;
  }

  get unsaved(): boolean {
    return this.undo !== null && this.undo.now !== this.saved;
  }

  // ---- the draft ----

  async load(): Promise<void> {
    const answer = await office.draft();
    if (!answer.ok) return this.failed(answer.text);
    const read = fromValue(answer.value.floor);
    if (!read.ok) return this.failed(read.text);
    this.trouble = '';
    this.draft = answer.value;
    this.saved = read.file;
    // Somebody else's draft is a step that can be taken back, not the end of what was drawn here.
    this.undo = this.undo ? did(this.undo, read.file) : begin(read.file);
    this.changed();
    this.checkSoon();
  }

  private failed(text: string): void {
    this.trouble = text;
    this.changed();
  }

  /** True if the service has what is drawn. */
  async save(): Promise<boolean> {
    const { file } = this;
    if (!file) return false;
    if (!this.unsaved && this.draft.version > 0 && this.draft.saved_at) return true;
    const answer = await office.save(file, this.draft.version);
    if (!answer.ok) {
      this.store.say(false, answer.status === 412 ? `Not saved: ${answer.text} “Fetch the draft” shows it; Undo brings yours back.` : `Not saved: ${answer.text}`);
      return false;
    }
    this.draft = answer.value;
    this.saved = file;
    this.store.say(true, `Saved as version ${answer.value.version} of the draft.`);
    return true;
  }

  // ---- steps ----

  /** `name`: goes on with the step of that name. */
  step(next: FloorFile, name = ''): void {
    if (!this.undo || next === this.undo.now) return;
    this.undo = did(this.undo, next, name);
    if (this.chosen && !find(next, this.chosen.kind, this.chosen.id)) this.chosen = null;
    if (this.laying && !find(next, 'point', this.laying)) this.laying = null;
    this.changed();
    this.checkSoon();
  }

  back(): void {
    this.jump(back);
  }

  forth(): void {
    this.jump(forth);
  }

  private jump(how: (undo: Undo<FloorFile>) => Undo<FloorFile>): void {
    if (!this.undo) return;
    this.undo = how(this.undo);
    const { now } = this.undo;
    if (this.chosen && !find(now, this.chosen.kind, this.chosen.id)) this.chosen = null;
    this.laying = null;
    this.changed();
    this.checkSoon();
  }

  /** The next step is a new one. */
  pause(): void {
    if (this.undo) this.undo = pause(this.undo);
  }

  choose(chosen: Chosen | null): void {
    this.pause();
    this.chosen = chosen;
    this.changed();
  }

  addPoint(at: Place): string {
    const id = newId(this.file!, 'point');
    this.chosen = { kind: 'point', id };
    this.step(add(this.file!, 'point', { id, x: at[0], y: at[1], tags: [] }));
    return id;
  }

  /** Begins a segment at that point, or ends it there and goes on. */
  layTo(point: string): void {
    if (this.laying && this.laying !== point) {
      const id = newId(this.file!, 'segment');
      const from = this.laying;
      this.laying = point;
      this.step(add(this.file!, 'segment', { id, from, to: point }));
      this.chosen = { kind: 'segment', id };
    } else {
      this.laying = point;
      this.chosen = { kind: 'point', id: point };
    }
    this.changed();
  }

  stopLaying(): void {
    this.laying = null;
    this.changed();
  }

  bend(segment: string, at: Place): void {
    const thing = find(this.file!, 'segment', segment);
    const line = thing && lineOf(this.file!, thing);
    if (!line) return;
    const { file, index } = addVia(this.file!, segment, at, line);
    this.step(file);
    this.choose({ kind: 'segment', id: segment, via: index });
  }

  /** The chosen segment's one corner becomes a curve. */
  round(segment: string): void {
    const thing = find(this.file!, 'segment', segment);
    const line = thing && lineOf(this.file!, thing);
    if (!line || line.length !== 3) return;
    this.step(setVia(this.file!, segment, rounded(line[0]!, line[1]!, line[2]!)));
    this.choose({ kind: 'segment', id: segment });
  }

  /** A chosen point, or a segment's chosen corner, goes there. */
  moveTo(at: Place, name: string): void {
    const { file, chosen } = this;
    if (!file || !chosen) return;
    if (chosen.kind === 'point') this.step(movePoint(file, chosen.id, at), name);
    const via = chosen.kind === 'segment' && chosen.via !== undefined ? find(file, 'segment', chosen.id)?.via : undefined;
    if (via?.[chosen.via!]) this.step(setVia(file, chosen.id, via.map((v, k) => (k === chosen.via ? at : v))), name);
  }

  /** Where the chosen point or corner is. */
  get chosenPlace(): Place | null {
    const { file, chosen } = this;
    if (!file || !chosen) return null;
    if (chosen.kind === 'segment') return (chosen.via !== undefined && find(file, 'segment', chosen.id)?.via?.[chosen.via]) || null;
    const point = find(file, 'point', chosen.kind === 'point' ? chosen.id : ((find(file, chosen.kind, chosen.id) as { point?: string })?.point ?? ''));
    return point ? [point.x, point.y] : null;
  }

  removeChosen(): void {
    const { file, chosen } = this;
    if (!file || !chosen) return;
    const via = chosen.via !== undefined ? find(file, 'segment', chosen.id)?.via : undefined;
    if (via) {
      const left = via.filter((_, k) => k !== chosen.via);
      this.chosen = { kind: 'segment', id: chosen.id };
      return this.step(setVia(file, chosen.id, left));
    }
    this.step(remove(file, chosen.kind, chosen.id));
  }

  set<K extends Kind, F extends keyof ThingOf[K]>(kind: K, id: string, key: F, value: ThingOf[K][F] | undefined): void {
    this.step(set(this.file!, kind, id, key, value), `${kind} ${id} ${String(key)}`);
  }

  rename(kind: Kind, id: string, to: string): void {
    this.chosen = { kind, id: to };
    this.step(rename(this.file!, kind, id, to));
  }

  addAt(kind: 'station' | 'charger', point: string): void {
    const id = newId(this.file!, kind);
    this.chosen = { kind, id };
    this.step(kind === 'station' ? add(this.file!, kind, { id, name: 'New station', point }) : add(this.file!, kind, { id, point }));
  }

  // ---- findings ----

  private checkSoon(): void {
    clearTimeout(this.timer);
    this.checking = true;
    this.timer = setTimeout(() => void this.checkNow(), checkPause);
  }

  private async checkNow(): Promise<void> {
    const { file } = this;
    if (!file || this.asked) return; // asked again when that answer is here
    this.asked = file;
    const answer = await office.check(file);
    this.asked = null;
    this.checkTrouble = answer.ok ? '' : answer.text;
    if (answer.ok) this.check = answer.value;
    this.checking = this.file !== file;
    this.changed();
    const later = answer.ok ? checkPause : again;
    if (this.checking || (!answer.ok && answer.status === 429)) this.timer = setTimeout(() => void this.checkNow(), later);
  }

  show(finding: Finding): void {
    this.shown = finding.at;
    this.look(finding.at);
    this.changed();
  }
}
