import { describe, expect, it } from 'vitest';
import { demoHistory } from '../../../dashboard/virtual/demo/history.ts';
import { historyBegin } from '../../../dashboard/virtual/index.ts';
import { boardSource } from '../../../dashboard/virtual/synth/board.ts';

const NOW_MS = Date.UTC(2026, 10, 25, 14, 30);
const WEEK_MS = 7 * 86_400_000;
const captures = [...demoHistory(historyBegin(NOW_MS))];

/** RMS of the first two seconds of one channel, mean removed, in steps. */
function rms(assetName: string, nodeEnd: string, channel: number, at: number): number {
  const ofAsset = captures.filter((one) => one.assetName === assetName);
  const { boards, startMs } = ofAsset.at(at)!;
  const { model } = boards.find(({ nodeId }) => nodeId.endsWith(nodeEnd))!;
  const source = boardSource(model, startMs / 1000);
  const samples = [...(source.next(2 * model.sampleRateHz) as Int16Array[])[channel]!];
  const mean = samples.reduce((sum, value) => sum + value, 0) / samples.length;
  return Math.sqrt(samples.reduce((sum, value) => sum + (value - mean) ** 2, 0) / samples.length);
}

describe('the past of the demo', () => {
  it('is twenty weeks of captures in order of time, all of them over', () => {
    const times = captures.map(({ startMs }) => startMs);
    expect(times).toEqual(times.toSorted((a, b) => a - b));
    expect(NOW_MS - times[0]!).toBeGreaterThan(19.8 * WEEK_MS);
    expect(NOW_MS - times[0]!).toBeLessThanOrEqual(20.2 * WEEK_MS);
    const last = captures.at(-1)!;
    expect(last.startMs + 1000 * last.seconds).toBeLessThan(NOW_MS);
    expect(captures.filter(({ assetName }) => assetName === 'Bus 2').length).toBeGreaterThan(45);
  });

  it('is the same each time, so that an interrupted filling can be taken up', () => {
    const again = [...demoHistory(historyBegin(NOW_MS))];
    expect(again.map(({ startMs, drive }) => [startMs, drive])).toEqual(
      captures.map(({ startMs, drive }) => [startMs, drive]),
    );
  });

  it('drives at mixed speeds, in two conditions', () => {
    const speeds = captures.flatMap(({ drive }) => (drive === null ? [] : [Math.round(drive.speedKmH)]));
    const slow = speeds.filter((speed) => speed >= 50 && speed < 60).length;
    const fast = speeds.filter((speed) => speed >= 70 && speed < 80).length;
    expect(slow + fast).toBe(speeds.length);
    expect(Math.min(slow, fast)).toBeGreaterThan(speeds.length / 4);
  });

  it('shakes more at the end where something wears, and alike where nothing does', () => {
    const growth = (asset: string, node: string, channel: number) =>
      rms(asset, node, channel, -1) / rms(asset, node, channel, 0);
    expect(growth('Bus 2', '01', 4)).toBeGreaterThan(1.5);
    // Its blades and bearings shake as before; the unbalance is most of the velocity, little of the acceleration.
    expect(growth('Workshop extraction fan', '01', 3)).toBeGreaterThan(1.08);
    expect(growth('Bus 1', '01', 4)).toBeLessThan(1.3);
    expect(growth('Bus 1', '01', 4)).toBeGreaterThan(0.7);
  });
});
