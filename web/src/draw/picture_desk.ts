// The floor-plan picture while the page is open: shown, laid to scale by two places, kept in this
// browser.
import type { Place } from './file.ts';
import { firstLaid, forget, keep, load, scaled, type Kept, type Laid } from './picture.ts';

export class PictureDesk {
  url = '';
  laid: Laid | null = null;
  /** Places pointed at to set the scale: none, one or two, mm. */
  marks: Place[] = [];
  trouble = '';
  private picture: Blob | null = null;

  constructor(private readonly changed: () => void) {}

  async start(): Promise<void> {
    const kept = await load();
    if (kept) this.show(kept);
  }

  private show({ picture, laid }: Kept): void {
    if (this.url) URL.revokeObjectURL(this.url);
    this.url = URL.createObjectURL(picture);
    this.picture = picture;
    this.laid = laid;
    this.changed();
  }

  /** A file that a person has chosen. */
  async take(file: File): Promise<void> {
    const url = URL.createObjectURL(file);
    const image = new Image();
    image.src = url;
    const readable = await image.decode().then(() => image.naturalWidth > 0, () => false);
    URL.revokeObjectURL(url);
    this.trouble = readable ? '' : `${file.name} is no picture that this browser can show.`;
    if (!readable) return this.changed();
    this.lay({ picture: file, laid: firstLaid(image.naturalWidth, image.naturalHeight) });
  }

  mark(place: Place): void {
    if (this.laid) this.marks = this.marks.length >= 2 ? [place] : [...this.marks, place];
    this.changed();
  }

  /** The two marks are so far apart, mm. */
  setScale(length: number): boolean {
    const [one, other] = this.marks;
    const laid = this.laid && one && other ? scaled(this.laid, one, other, length) : null;
    if (!laid) return false;
    this.marks = [];
    this.move(laid);
    return true;
  }

  move(laid: Laid): void {
    if (this.picture) this.lay({ picture: this.picture, laid });
  }

  private lay(kept: Kept): void {
    this.show(kept);
    void keep(kept);
  }

  drop(): void {
    if (this.url) URL.revokeObjectURL(this.url);
    this.url = '';
    this.picture = null;
    this.laid = null;
    this.marks = [];
    void forget();
    this.changed();
  }
}
