import { trend } from '../../../collector/index.ts';
import type { RunKind, RunManoeuvre, VehicleQuantity, VehicleSeries } from '../../contract/runs.ts';

/** Values of a vehicle hold for so long: slower adapters send every two seconds. */
const HOLDS_MS = 2_500;
/** Where the road speed is not known but a shaft's is. Common practice, no source. */
const SHAFT_STEP_RPM = 200;

export interface RunConditions {
  kind: RunKind;
  vehicle: readonly VehicleSeries[];
  manoeuvres: readonly RunManoeuvre[];
}

/**
 * Name of the condition of each second of a run; null where it is not known, or where it cannot be told at all.
 *
 * Told apart is what the vehicle said during this run: runs with less known fall in conditions of their own. On the
 * road without any speed, guided manoeuvres stand for it. A machine on its bench always runs alike.
 */
export function conditionsOf({
  kind,
  vehicle,
  manoeuvres,
}: RunConditions): (startMs: number) => string | null {
  const known = (quantity: VehicleQuantity) => vehicle.some((series) => series.quantity === quantity);
  const hasSpeed = known('roadSpeedKmH');
  const hasShaft = !hasSpeed && known('outputSpeedRpm');
  const scheme: trend.BinScheme = {
    speedStepKmH: hasSpeed ? trend.ROAD_BINS.speedStepKmH : null,
    shaftStepRpm: hasShaft ? SHAFT_STEP_RPM : null,
    loadStepPercent: known('engineLoadPercent') ? trend.ROAD_BINS.loadStepPercent : null,
    gear: known('gear'),
    manoeuvre: !hasSpeed && !hasShaft && manoeuvres.length > 0,
  };
  const isTold = hasSpeed || hasShaft || scheme.manoeuvre || kind === 'bench';
  if (!isTold) return () => null;
  const value = lookUp(vehicle);
  return (startMs) => {
    const middleMs = startMs + 500;
    const gear = value('gear', middleMs);
    const bin = trend.conditionBin(
      {
        speedKmH: value('roadSpeedKmH', middleMs),
        shaftRpm: value('outputSpeedRpm', middleMs),
        loadPercent: value('engineLoadPercent', middleMs),
        gear: gear === null ? null : String(gear),
        manoeuvre: manoeuvreAt(manoeuvres, middleMs),
      },
      scheme,
    );
    if (bin === null) return null;
    return kind === 'road' ? bin : `${kind}, ${bin}`;
  };
}

function manoeuvreAt(manoeuvres: readonly RunManoeuvre[], atMs: number): string | null {
  const found = manoeuvres.find(({ startMs, endMs }) => startMs <= atMs && (endMs === null || endMs > atMs));
  return found?.manoeuvre ?? null;
}

/** The last value said before an instant, while it holds. */
function lookUp(vehicle: readonly VehicleSeries[]) {
  const byQuantity = new Map(vehicle.map((series) => [series.quantity, series]));
  return (quantity: VehicleQuantity, atMs: number): number | null => {
    const series = byQuantity.get(quantity);
    if (series === undefined) return null;
    let [low, high] = [0, series.atMs.length];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (series.atMs[middle]! <= atMs) low = middle + 1;
      else high = middle;
    }
    const index = low - 1;
    return index >= 0 && atMs - series.atMs[index]! <= HOLDS_MS ? series.value[index]! : null;
  };
}
