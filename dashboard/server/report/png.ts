import { crc32, deflateSync } from 'node:zlib';

type Colour = readonly [red: number, green: number, blue: number];

const SIGNATURE = Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]);

/** A picture of up to 256 colours as PNG (ISO/IEC 15948): one byte a cell, row after row from the top. */
export function palettePng(
  width: number,
  height: number,
  cells: Uint8Array,
  palette: readonly Colour[],
): Buffer {
  const head = Buffer.alloc(13);
  head.writeUInt32BE(width, 0);
  head.writeUInt32BE(height, 4);
  head.set([8, 3, 0, 0, 0], 8);
  // Each row begins with its filter: none.
  const rows = Buffer.alloc(height * (width + 1));
  for (let y = 0; y < height; y++) rows.set(cells.subarray(y * width, (y + 1) * width), y * (width + 1) + 1);
  return Buffer.concat([
    SIGNATURE,
    chunk('IHDR', head),
    chunk('PLTE', Buffer.from(palette.flat())),
    chunk('IDAT', deflateSync(rows, { level: 9 })),
    chunk('IEND', Buffer.alloc(0)),
  ]);
}

function chunk(name: string, data: Buffer): Buffer {
  const body = Buffer.concat([Buffer.from(name, 'latin1'), data]);
  const whole = Buffer.alloc(body.length + 8);
  whole.writeUInt32BE(data.length, 0);
  whole.set(body, 4);
  whole.writeUInt32BE(crc32(body), body.length + 4);
  return whole;
}
