import { describe, expect, it } from 'vitest';
import type { MarkRequest, Run } from '../../../dashboard/contract/runs.ts';
import { createMarker } from '../../../dashboard/web/state/marker.ts';

const settle = () => new Promise((resolve) => setTimeout(resolve, 0));

/** A station that takes marks, is away, or refuses them for good. */
function station() {
  const taken: MarkRequest[] = [];
  let mood: 'there' | 'away' | 'refuses' = 'there';
  const marker = createMarker(
    async (request) => {
      if (mood !== 'there') throw new Error(mood);
      taken.push(request);
      return {} as Run;
    },
    (error) => (error as Error).message === 'refuses',
  );
  return { taken, marker, be: (next: typeof mood) => (mood = next) };
}

describe('the noise button', () => {
  it('sends a short press as a moment and a held one as a span, when it is over', async () => {
    const { marker, taken } = station();
    marker.press(1000.4, 'button');
    expect(marker.down.value).toBe(true);
    await settle();
    expect(taken).toEqual([]);
    marker.release(1300);
    marker.press(5000, 'key');
    marker.press(5100, 'key');
    marker.release(8000);
    marker.release(9000);
    await settle();
    expect(taken).toEqual([
      { atMs: 1000, endMs: null, source: 'button' },
      { atMs: 5000, endMs: 8000, source: 'key' },
    ]);
    expect([marker.waiting.value, marker.lastMs.value, marker.down.value]).toEqual([0, 5000, false]);
  });

  it('keeps marks while the station is away, and sends them in order once it is back', async () => {
    const { marker, taken, be } = station();
    be('away');
    for (const atMs of [1000, 2000, 3000]) {
      marker.press(atMs, 'button');
      marker.release(atMs + 100);
      await settle();
    }
    expect([marker.waiting.value, taken]).toEqual([3, []]);
    be('there');
    marker.retry();
    await settle();
    expect(taken.map(({ atMs }) => atMs)).toEqual([1000, 2000, 3000]);
    expect(marker.waiting.value).toBe(0);
  });

  it('a mark refused for good holds up no other', async () => {
    const { marker, taken, be } = station();
    be('refuses');
    marker.press(1000, 'button');
    marker.release(1100);
    await settle();
    expect(marker.waiting.value).toBe(0);
    be('there');
    marker.press(2000, 'button');
    marker.release(2100);
    await settle();
    expect(taken.map(({ atMs }) => atMs)).toEqual([2000]);
  });
});
