/** What a report is made of: gathered first, written afterwards. Types only. */
import type { FindingRecord } from '../../contract/drive-train.ts';
import type { CompareResult } from '../../contract/inquiries.ts';
import type { MachineClass, Zone } from '../../contract/model.ts';
import type {
  Check,
  Complaint,
  ManoeuvreId,
  Outcome,
  RunKind,
  RunManoeuvre,
  VehicleQuantity,
} from '../../contract/runs.ts';
import type { LocationTrend } from '../../contract/weeks.ts';
import type { Headline } from './headline.ts';

export interface Span {
  fromMs: number;
  toMs: number;
}

/** Null in these fields: left out, because the report goes to others. */
export interface ReportData {
  madeMs: number;
  version: string;
  /** Names, notes and exact times are in. */
  withNames: boolean;
  site: string | null;
  asset: { id: number; name: string | null; kind: 'vehicle' | 'machine'; machineClass: MachineClass };
  headline: Headline;
  run: ReportRun | null;
  comparison: CompareResult | null;
  /** Why there is no comparison; null when there is one, or nothing to compare. */
  comparisonMissing: string | null;
  media: ReportMedia | null;
  places: ReportPlace[];
  /** Location the report is mostly about; null when none stands out. */
  mainId: number | null;
}

export interface ReportRun {
  id: number;
  kind: RunKind;
  source: 'station' | 'import';
  startMs: number;
  seconds: number;
  operator: string | null;
  odometerKm: number | null;
  notes: string | null;
  complaint: Complaint;
  checks: Check[];
  outcome: Outcome | null;
  marks: { fromS: number; toS: number | null; note: string | null }[];
  manoeuvres: {
    manoeuvre: ManoeuvreId;
    title: string;
    fromS: number;
    noise: RunManoeuvre['noise'];
    pitch: RunManoeuvre['pitch'];
  }[];
  /** What the manoeuvres leave standing; null without manoeuvres. */
  suspects: string | null;
  /** What the vehicle said, over the marked seconds where there are some. */
  vehicle: { quantity: VehicleQuantity; low: number; middle: number; high: number }[];
  vehicleSpan: 'noise' | 'run';
}

/** Everything made from the raw samples. */
export interface ReportMedia {
  /** Why something is missing, in whole sentences. */
  notes: string[];
  clips: Clip[];
  spectrogram: (ReportPicture & { place: string; lowDb: number; highDb: number; topHz: number }) | null;
  /** SVG of spectrum and envelope. */
  lines: { svg: string; place: string; axis: string; seconds: number; expected: boolean } | null;
}

export interface ReportPicture {
  png: Buffer;
  /** Seconds since the run's beginning. */
  fromS: number;
  toS: number;
  marks: { fromS: number; toS: number }[];
}

export interface Clip {
  place: string;
  /** `whole`: nothing was marked. */
  what: 'noise' | 'quiet' | 'whole';
  fromS: number;
  seconds: number;
  axis: string;
  /** As measured; null: the node does not know its scale. */
  rmsMPerS2: number | null;
  recordedToHz: number;
  wav: Buffer;
}

export interface ReportPlace {
  locationId: number;
  name: string;
  component: string;
  level: PlaceLevel | null;
  look: { record: FindingRecord; inRun: boolean } | null;
  trend: LocationTrend | null;
  sensors: PlaceSensor[];
  /** Null: nothing was recorded here, or there is no run. */
  digest: { sha256: string; bytes: number; sampleRateHz: number } | { missing: string } | null;
}

export interface PlaceLevel {
  velocityRmsMmPerS: number;
  uncertaintyMmPerS: number | null;
  axis: string;
  bandHz: readonly [number, number];
  seconds: number;
  /** Null where zones do not apply. */
  zone: Zone | null;
}

export interface PlaceSensor {
  nodeId: string;
  sensor: number;
  part: string;
  serial: string;
  tolerancePct: number | null;
  checkedMs: number | null;
  mountedMs: number;
  turnedDeg: number | null;
}
