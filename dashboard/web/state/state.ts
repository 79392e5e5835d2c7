/** Everything the page knows. Plain data, changed only by `reduce`. */
import type { Alert } from '../../contract/alerts.ts';
import type { ServerMessage } from '../../contract/live.ts';
import type { Asset, LocationReading, SessionState } from '../../contract/model.ts';
import type { FeltTap } from '../../contract/rig.ts';

export type Live = Extract<ServerMessage, { type: 'waveform' }>;

export type VehicleSaid = Extract<ServerMessage, { type: 'vehicle' }>;

/** `lost`: the page had the station, or tried for it, and has it no longer. */
type Connection = 'connecting' | 'live' | 'lost';

export interface State {
  /** Null until the station first answered. */
  session: SessionState | null;
  /** Station clock minus this device's clock. Ages are told by the station's clock. */
  clockOffsetMs: number;
  connection: Connection;
  /** Station time when the connection was lost. */
  lostSinceMs: number | null;
  /** Null until first read. `newest` in here is only as new as that read: see `newest` below. */
  assets: readonly Asset[] | null;
  /** Counts up whenever the list of assets must be read again. */
  assetsStale: number;
  /** Newest reading by location id. */
  newest: Readonly<Record<number, LocationReading | undefined>>;
  /** Counts up whenever a run began, ended or changed. */
  runsStale: number;
  /** Alerts that are open, newest first; null until first read. */
  alerts: readonly Alert[] | null;
  /** Counts up whenever alerts must be read again. */
  alertsStale: number;
  /** What vehicles last said of themselves, by asset id. */
  vehicle: Readonly<Record<number, VehicleSaid | undefined>>;
  /** Raps felt while the page was open, oldest first. */
  taps: readonly FeltTap[];
  /** Location whose waveform is asked for. */
  watching: number | null;
  live: Live | null;
}

export type Message =
  | { type: 'session'; session: SessionState; atMs: number }
  | { type: 'assets'; assets: readonly Asset[] }
  | { type: 'alerts'; alerts: readonly Alert[] }
  | { type: 'connection'; connection: Connection; atMs: number }
  | { type: 'watch'; locationId: number | null }
  | { type: 'server'; message: ServerMessage; atMs: number };

export const initialState: State = {
  session: null,
  clockOffsetMs: 0,
  connection: 'connecting',
  lostSinceMs: null,
  assets: null,
  assetsStale: 0,
  newest: {},
  runsStale: 0,
  alerts: null,
  alertsStale: 0,
  vehicle: {},
  taps: [],
  watching: null,
  live: null,
};
