import { inflateSync } from 'node:zlib';
import { describe, expect, it } from 'vitest';
import type { CompareResult } from '../../../../dashboard/contract/inquiries.ts';
import { escapeHtml, html } from '../../../../dashboard/server/report/html.ts';
import { matchLoudness } from '../../../../dashboard/server/report/match-loudness.ts';
import { momentsOf } from '../../../../dashboard/server/report/moments.ts';
import { palettePng } from '../../../../dashboard/server/report/png.ts';
import { encodeSamples, wavBytes } from '../../../support/wav-bytes.ts';

describe('HTML made of pieces', () => {
  it('escapes every value once, and pieces not again', () => {
    const name = `<script>"a" & 'b'</script>`;
    const piece = html`<b title="${name}">${name}</b>`;
    expect(html`<p>${[piece, null, false, 3]}</p>`.markup).toBe(
      `<p><b title="${escapeHtml(name)}">${escapeHtml(name)}</b>3</p>`,
    );
    expect(escapeHtml(name)).toBe('&lt;script&gt;&quot;a&quot; &amp; &#39;b&#39;&lt;/script&gt;');
  });
});

describe('sounds made equally loud', () => {
  const wav = (samples: number[]) =>
    wavBytes(encodeSamples(Float64Array.from(samples), 16), { sampleRateHz: 8000, channelCount: 1 });
  const values = (bytes: Buffer) =>
    Array.from({ length: (bytes.length - 44) / 2 }, (_, k) => bytes.readInt16LE(44 + 2 * k) / 32768);
  const rms = (samples: number[]) => Math.sqrt(samples.reduce((sum, v) => sum + v * v, 0) / samples.length);

  it('share one level; none is clipped, and silence stays silence', () => {
    const tone = Array.from({ length: 8000 }, (_, k) => 0.01 * Math.sin(k / 3));
    const knocks = Array.from({ length: 8000 }, (_, k) => (k % 1000 === 0 ? 0.9 : 0));
    const [a, b, c] = matchLoudness([wav(tone), wav(knocks), wav(new Array(100).fill(0))]).map(values);
    expect(20 * Math.log10(rms(a!) / rms(b!))).toBeCloseTo(0, 1);
    // A knock every 1000 samples: crest factor sqrt(1000), so at a peak of -1 dB an RMS of 0.0282.
    expect(Math.max(...b!)).toBeCloseTo(10 ** (-1 / 20), 3);
    expect(rms(b!)).toBeCloseTo(10 ** (-1 / 20) / Math.sqrt(1000), 3);
    expect(rms(c!)).toBe(0);
  });
});

describe('the moments that are shown', () => {
  const run = { fromMs: 100_000, toMs: 160_000 };
  const compared = (seconds: number[], windows: number[], quietWindows: number[]) =>
    ({ seconds, request: {}, comparison: { windows, quietWindows } }) as unknown as CompareResult;

  it('are the middle of the longest row of marked seconds, and of quiet ones', () => {
    const seconds = Array.from({ length: 40 }, (_, k) => 105 + k);
    const noise = [0, 1, 5, 6, 7, 8, 9, 10, 11];
    const found = momentsOf(run, [{ atMs: 110_000, endMs: 117_000 }], compared(seconds, noise, [20, 21, 22]));
    expect(found).toEqual({
      noise: { fromMs: 111_000, toMs: 116_000 },
      quiet: { fromMs: 125_000, toMs: 128_000 },
      marked: true,
    });
  });

  it('are around the first press without a comparison, and in the middle without a mark', () => {
    expect(momentsOf(run, [{ atMs: 130_000, endMs: null }], null).noise).toEqual({
      fromMs: 126_000,
      toMs: 131_000,
    });
    expect(momentsOf(run, [{ atMs: 101_000, endMs: null }], null).noise.fromMs).toBe(100_000);
    expect(momentsOf(run, [], null)).toEqual({
      noise: { fromMs: 127_500, toMs: 132_500 },
      quiet: null,
      marked: false,
    });
  });
});

describe('a picture as PNG', () => {
  it('holds its cells row after row', () => {
    const png = palettePng(2, 2, Uint8Array.from([0, 1, 1, 0]), [
      [255, 255, 255],
      [0, 0, 0],
    ]);
    const at = png.indexOf('IDAT');
    expect([...inflateSync(png.subarray(at + 4, at + 4 + png.readUInt32BE(at - 4)))]).toEqual([
      0, 0, 1, 0, 1, 0,
    ]);
  });
});
