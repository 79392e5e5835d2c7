/** What a machine is doing at one moment. Shaft speeds in revolutions a second (Hz). */
export interface Operating {
  speedKmH: number;
  /** -0.3 (overrun) to 1 (full pull). */
  load: number;
  engineHz: number;
  /** Gearbox output and propeller shaft. */
  outputShaftHz: number;
  wheelHz: number;
}

export type OperatingAt = (timeS: number) => Operating;

const GEARS = [
  { upToKmH: 15, ratio: 4.2 },
  { upToKmH: 30, ratio: 2.3 },
  { upToKmH: 50, ratio: 1.45 },
  { upToKmH: Number.POSITIVE_INFINITY, ratio: 1 },
];
const FINAL_DRIVE = 3.9;
const TYRE_CIRCUMFERENCE_M = 2.1;
const IDLE_HZ = 800 / 60;

/** Corner points of a stop on the bus route: [seconds, km/h], run through again and again. */
const ROUTE: [number, number][] = [
  [0, 0],
  [8, 0],
  [22, 45],
  [50, 50],
  [62, 70],
  [90, 70],
  [112, 0],
  [120, 0],
];

/** A bus on its route; `offsetS` lets buses be at different places of it. */
export function busOnRoute(offsetS: number): OperatingAt {
  const lap = ROUTE.at(-1)![0];
  return (timeS) => {
    const at = (timeS + offsetS) % lap;
    const next = Math.max(
      1,
      ROUTE.findIndex(([second]) => second > at),
    );
    const [fromS, fromKmH] = ROUTE[next - 1]!;
    const [toS, toKmH] = ROUTE[next]!;
    const slopeKmHPerS = (toKmH - fromKmH) / (toS - fromS);
    const speedKmH = fromKmH + slopeKmHPerS * (at - fromS);
    const rolling = speedKmH > 0 ? 0.15 + speedKmH / 300 : 0;
    return busAt(speedKmH, rolling + slopeKmHPerS / 4);
  };
}

/** A bus held at one speed, with more or fewer people in it than usual. */
export function busAtSteadySpeed(speedKmH: number, extraLoad: number): OperatingAt {
  const operating = busAt(speedKmH, 0.15 + speedKmH / 300 + extraLoad);
  return () => operating;
}

/** Gear, counted from 1, that a bus drives a speed in. */
export function gearAt(speedKmH: number): number {
  return GEARS.findIndex(({ upToKmH }) => speedKmH <= upToKmH) + 1;
}

function busAt(speedKmH: number, load: number): Operating {
  const wheelHz = speedKmH / 3.6 / TYRE_CIRCUMFERENCE_M;
  const outputShaftHz = wheelHz * FINAL_DRIVE;
  const { ratio } = GEARS[gearAt(speedKmH) - 1]!;
  // Below the idle speed the clutch slips and the engine stays at idle.
  const engineHz = Math.max(IDLE_HZ, outputShaftHz * ratio);
  return { speedKmH, load: Math.min(1, Math.max(-0.3, load)), engineHz, outputShaftHz, wheelHz };
}

/** A fan on a four-pole 50 Hz motor: steady, with a slow sway of a few thousandths from its load. */
export function steadyFan(): OperatingAt {
  return (timeS) => {
    const shaftHz = 24.4 * (1 + 0.003 * Math.sin((2 * Math.PI * timeS) / 47));
    return { speedKmH: 0, load: 0.7, engineHz: shaftHz, outputShaftHz: shaftHz, wheelHz: shaftHz };
  };
}
