import { describe, expect, it } from 'vitest';
import { killLoop } from './kill-loop.ts';

/** Ten by default; `CLAMPLINE_KILLS=100 npx vitest run tests/broker/kill.test.ts` for the long run. */
const kills = Number(process.env['CLAMPLINE_KILLS'] ?? 10);

describe('a broker killed without warning, again and again', () => {
  it(`${kills} times: nothing it acknowledged is lost`, { timeout: 30_000 + kills * 5_000 }, async () => {
    const result = await killLoop(kills);
    console.log(
      `${result.kills} kills: ${result.acknowledged} acknowledged, ${result.stored} stored, ${result.lost.length} lost`,
    );
    expect(result.lost).toEqual([]);
    expect(result.disordered).toBe(0);
    // The loop would prove nothing if hardly anything had been under way.
    expect(result.acknowledged).toBeGreaterThan(kills * 10);
  });
});
