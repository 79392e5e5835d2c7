import type { Spectrogram } from '../../contract/inquiries.ts';

/** Levels this far below the highest are drawn like the page itself. */
export const SHOWN_DB = 60;

/** Bytes of the base64 text. */
export function levelBytes({ levels }: Spectrogram): Uint8Array {
  return Uint8Array.from(atob(levels), (char) => char.charCodeAt(0));
}

/** Highest level in the picture, dB. */
export function highestDb(picture: Spectrogram, bytes: Uint8Array): number {
  let highest = 0;
  for (const byte of bytes) if (byte > highest) highest = byte;
  return picture.lowDb + highest * picture.stepDb;
}

/** One hue, from the page's surface to the darkest (in dark mode: lightest) step of the zone scale. */
export function drawSpectrogram(canvas: HTMLCanvasElement, picture: Spectrogram, bytes: Uint8Array): void {
  const { columns, rows, lowDb, stepDb } = picture;
  canvas.width = columns;
  canvas.height = rows;
  const context = canvas.getContext('2d')!;
  const style = getComputedStyle(document.documentElement);
  const [from, to] = ['--surface', '--zone-d'].map((name) => rgb(style.getPropertyValue(name)));
  const high = highestDb(picture, bytes);
  const image = context.createImageData(columns, rows);
  for (let column = 0; column < columns; column++) {
    for (let row = 0; row < rows; row++) {
      const byte = bytes[column * rows + row]!;
      const share =
        byte === 0 ? 0 : Math.max(0, Math.min(1, (lowDb + byte * stepDb - high + SHOWN_DB) / SHOWN_DB));
      // Row 0 is the lowest frequency and is drawn at the bottom.
      const at = 4 * ((rows - 1 - row) * columns + column);
      for (let c = 0; c < 3; c++) image.data[at + c] = Math.round(from![c]! + share * (to![c]! - from![c]!));
      image.data[at + 3] = 255;
    }
  }
  context.putImageData(image, 0, 0);
}

function rgb(text: string): [number, number, number] {
  const short = text.trim().replace('#', '');
  // The style sheet's minifier writes #ffffff as #fff.
  const hex = short.length === 3 ? [...short].map((digit) => digit + digit).join('') : short;
  const part = (at: number) => Number.parseInt(hex.slice(at, at + 2), 16);
  return [part(0), part(2), part(4)];
}
