import type { ServerMessage } from '../../contract/live.ts';
import type { Asset, Location, LocationReading, SessionState } from '../../contract/model.ts';
import type { Message, State } from './state.ts';

/** The only way the state changes. Parts that did not change keep their identity, so views can skip them. */
export function reduce(state: State, message: Message): State {
  switch (message.type) {
    case 'session':
      return withSession(state, message.session, message.atMs);
    case 'assets':
      return { ...state, assets: message.assets, newest: newestAfterRead(state, message.assets) };
    case 'alerts':
      return { ...state, alerts: message.alerts };
    case 'connection':
      return withConnection(state, message.connection, message.atMs);
    case 'watch':
      if (state.watching === message.locationId) return state;
      return { ...state, watching: message.locationId, live: null };
    case 'server':
      return withServerMessage(state, message.message, message.atMs);
  }
}

function withSession(state: State, session: SessionState, atMs: number): State {
  const known = { ...state, session, clockOffsetMs: session.nowMs - atMs };
  // One person's data must not stay on screen for the next.
  if (session.person === null)
    return { ...known, assets: null, alerts: null, newest: {}, live: null, watching: null, taps: [] };
  const isSignIn = (state.session?.person ?? null) === null;
  return isSignIn
    ? { ...known, assetsStale: state.assetsStale + 1, alertsStale: state.alertsStale + 1 }
    : known;
}

function withServerMessage(state: State, message: ServerMessage, atMs: number): State {
  switch (message.type) {
    case 'reading': {
      const { reading } = message;
      const known = state.newest[reading.locationId];
      // A node that was away sends its stored seconds late: they belong to the trend, not to "newest".
      if (known && known.startMs > reading.startMs) return state;
      return { ...state, newest: { ...state.newest, [reading.locationId]: reading } };
    }
    case 'waveform':
      return message.locationId === state.watching ? { ...state, live: message } : state;
    case 'tap':
      return { ...state, taps: withTap(state.taps, message.tap) };
    case 'assets-changed':
      return { ...state, assetsStale: state.assetsStale + 1 };
    case 'alerts-changed':
      return { ...state, alertsStale: state.alertsStale + 1 };
    case 'run-changed':
      return { ...state, runsStale: state.runsStale + 1 };
    case 'vehicle':
      return { ...state, vehicle: { ...state.vehicle, [message.assetId]: message } };
    case 'heartbeat':
      return { ...state, clockOffsetMs: message.nowMs - atMs };
    default:
      // A newer station may send kinds this page does not know yet.
      return state;
  }
}

function withConnection(state: State, connection: State['connection'], atMs: number): State {
  if (connection === state.connection) return state;
  if (connection === 'lost') return { ...state, connection, lostSinceMs: atMs + state.clockOffsetMs };
  // Whatever changed while the page was cut off is read again.
  if (connection === 'live')
    return {
      ...state,
      connection,
      lostSinceMs: null,
      assetsStale: state.assetsStale + 1,
      runsStale: state.runsStale + 1,
      alertsStale: state.alertsStale + 1,
    };
  return { ...state, connection };
}

function newestAfterRead(state: State, assets: readonly Asset[]): State['newest'] {
  const before = new Map<number, Location>();
  for (const asset of state.assets ?? []) for (const place of asset.locations) before.set(place.id, place);
  const newest: Record<number, LocationReading | undefined> = {};
  for (const asset of assets) {
    for (const place of asset.locations) {
      const known = state.newest[place.id];
      // The live line may have run ahead of the answer; after another mount the old reading no longer counts.
      const ahead =
        known &&
        sameMount(before.get(place.id), place) &&
        (place.newest === null || known.startMs > place.newest.startMs);
      newest[place.id] = ahead ? known : (place.newest ?? undefined);
    }
  }
  return newest;
}

function sameMount(before: Location | undefined, now: Location): boolean {
  if (before === undefined) return false;
  return before.mount?.nodeId === now.mount?.nodeId && before.mount?.sensor === now.mount?.sensor;
}

const MOST_TAPS = 10;

/** A rap that another sensor has felt too comes again, with the same number. */
function withTap(taps: State['taps'], tap: State['taps'][number]): State['taps'] {
  const others = taps.filter(({ id }) => id !== tap.id);
  return [...others, tap].slice(-MOST_TAPS);
}
