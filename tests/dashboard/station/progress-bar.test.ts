import { describe, expect, it } from 'vitest';
import { progressBar, timeLeft } from '../../../dashboard/station/progress-bar.ts';

function screen(isTTY: boolean) {
  const written: string[] = [];
  return { isTTY, columns: 60, write: (text: string) => written.push(text) > 0, written };
}

describe('progress bar', () => {
  it('draws over itself, within the width, at most ten times a second, and clears', () => {
    const stream = screen(true);
    let ms = 0;
    const bar = progressBar(stream as never, () => ms);
    for (let i = 0; i <= 1000; i++) {
      ms += 10;
      bar.show(i / 1000, 'copying a long name of something that does not fit at all');
    }
    bar.clear();
    expect(stream.written.length).toBeLessThan(110);
    expect(stream.written.length).toBeGreaterThan(90);
    expect(Math.max(...stream.written.map((line) => line.replace('\r\u001b[K', '').length))).toBeLessThan(60);
    expect(stream.written[50]).toMatch(/\[#+-+\] \d+ % copying/);
    expect(stream.written.at(-1)).toBe('\r\u001b[K');
  });

  it('is silent where nobody looks', () => {
    const stream = screen(false);
    const bar = progressBar(stream as never, () => 0);
    bar.show(0.5, 'copying');
    bar.clear();
    expect(stream.written).toEqual([]);
  });

  it('tells the time left at the pace so far', () => {
    expect(timeLeft(0.5, 30_000)).toBe(', 30 s left');
    expect(timeLeft(0.1, 60_000)).toBe(', 9 min left');
    expect(timeLeft(0.01, 600_000)).toBe(', 16.5 h left');
    expect(timeLeft(0, 1000)).toBe('');
    expect(timeLeft(1, 1000)).toBe('');
  });
});
