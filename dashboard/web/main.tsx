/** Where the page is put together: the only file that knows the browser's network, clock and document at once. */
import { effect, signal } from '@preact/signals';
import { render } from 'preact';
import { navigate } from 'wouter-preact/use-browser-location';
import type { Alert } from '../contract/alerts.ts';
import { createApi } from './api.ts';
import { Page } from './app.tsx';
import { createLiveSocket, type Line } from './socket.ts';
import { type App, AppProvider, createStore } from './state/store.ts';
import './styles/index.css';

const nowMs = signal(Date.now());
const store = createStore(nowMs);
const { state, dispatch } = store;

const api = createApi(
  (input, init) => fetch(input, init),
  () => void readSession(),
);

const app: App = {
  ...store,
  api,
  async readAssets() {
    dispatch({ type: 'assets', assets: await api.assets() });
  },
  goTo: (path) => navigate(path),
};

const socket = createLiveSocket({
  open: () =>
    new WebSocket(`${location.protocol === 'https:' ? 'wss' : 'ws'}://${location.host}/api/live`) as Line,
  onMessage: (message) => dispatch({ type: 'server', message, atMs: Date.now() }),
  onConnection(connection) {
    dispatch({ type: 'connection', connection, atMs: Date.now() });
    // A refused line looks the same as a broken one: ask whether the session still stands.
    if (connection === 'lost') void readSession();
  },
});

let sessionRetry: ReturnType<typeof setTimeout> | undefined;

async function readSession(): Promise<void> {
  clearTimeout(sessionRetry);
  try {
    const session = await api.session();
    dispatch({ type: 'session', session, atMs: Date.now() });
  } catch {
    if (state.value.session !== null) return;
    // Never reached so far: say so and keep trying. Afterwards the live line does the trying.
    dispatch({ type: 'connection', connection: 'lost', atMs: Date.now() });
    sessionRetry = setTimeout(readSession, 3000);
  }
}

const signedIn = () => (state.value.session?.person ?? null) !== null;

let wasSignedIn = false;
effect(() => {
  const is = signedIn();
  if (is === wasSignedIn) return;
  wasSignedIn = is;
  if (is) socket.start();
  else socket.stop();
});

let staleSeen = 0;
effect(() => {
  const { assetsStale } = state.value;
  if (!signedIn() || assetsStale === staleSeen) return;
  staleSeen = assetsStale;
  // A failure here means the line is down too: its banner speaks, and coming back reads again.
  app.readAssets().catch(() => {});
});

let alertsStaleSeen = 0;
effect(() => {
  const { alertsStale } = state.value;
  if (!signedIn() || alertsStale === alertsStaleSeen) return;
  alertsStaleSeen = alertsStale;
  api.call<Alert[]>('GET', '/alerts').then(
    (alerts) => dispatch({ type: 'alerts', alerts }),
    () => {},
  );
});

effect(() => socket.watch(state.value.watching));

setInterval(() => {
  nowMs.value = Date.now() + state.value.clockOffsetMs;
}, 1000);

const wake = () => document.visibilityState === 'visible' && socket.retryNow();
document.addEventListener('visibilitychange', wake);
addEventListener('online', wake);

void readSession();

render(
  <AppProvider value={app}>
    <Page />
  </AppProvider>,
  document.getElementById('page')!,
);
