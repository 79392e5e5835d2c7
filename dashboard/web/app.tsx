/** The frame around every page: name, ways, person, and whether the station is in reach. */
import { useComputed } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { Link, Route, Switch, useLocation } from 'wouter-preact';
import { moment } from './format.ts';
import { useApp } from './state/store.ts';
import { Failure, useAction } from './views/actions.tsx';
import { AssetPage } from './views/asset.tsx';
import { Assets } from './views/assets.tsx';
import { Cautions } from './views/cautions.tsx';
import { Login, Setup } from './views/entry.tsx';
import { Home } from './views/home.tsx';
import { later } from './views/later.tsx';
import { LocationPage } from './views/location.tsx';
import { Nodes } from './views/nodes.tsx';
import { RunImport } from './views/run-import.tsx';
import { RunStart } from './views/run-start.tsx';
import { Runs } from './views/runs.tsx';
import { Title } from './views/title.tsx';

const TrendPage = later(async () => (await import('./views/weeks/index.ts')).TrendPage);
const WatchPage = later(async () => (await import('./views/deciding/index.ts')).WatchPage);
const OpenedPage = later(async () => (await import('./views/deciding/index.ts')).OpenedPage);
const RepairPage = later(async () => (await import('./views/deciding/index.ts')).RepairPage);
const DecidePage = later(async () => (await import('./views/deciding/index.ts')).DecidePage);
const SitesPage = later(async () => (await import('./views/sites.tsx')).Sites);
const Alerts = later(async () => (await import('./views/alerts/index.ts')).Alerts);
const SensorPage = later(async () => (await import('./views/sensor.tsx')).SensorPage);
const TapTest = later(async () => (await import('./views/tap-test.tsx')).TapTest);
const People = later(async () => (await import('./views/people.tsx')).People);
const RunPage = later(async () => (await import('./views/run.tsx')).RunPage);

export function Page() {
  const { state } = useApp();
  const session = useComputed(() => state.value.session).value;
  const [path] = useLocation();
  const signedIn = session !== null && session.person !== null;
  return (
    <>
      <a class="skip" href="#content">
        Skip to content
      </a>
      <Header />
      <Banner />
      <main id="content" tabIndex={-1}>
        {session === null ? (
          <p>Asking the station…</p>
        ) : path === '/setup' || session.setupNeeded ? (
          <Setup session={session} />
        ) : path === '/cautions' ? (
          <Cautions />
        ) : signedIn ? (
          <Routes />
        ) : (
          <Login session={session} />
        )}
      </main>
    </>
  );
}

function Routes() {
  return (
    <Switch>
      <Route path="/">
        <Home />
      </Route>
      <Route path="/location/:id">{({ id }) => <LocationPage key={id} locationId={Number(id)} />}</Route>
      <Route path="/location/:id/weeks">{({ id }) => <TrendPage key={id} locationId={Number(id)} />}</Route>
      <Route path="/assets">
        <Assets />
      </Route>
      <Route path="/assets/:id">{({ id }) => <AssetPage key={id} assetId={Number(id)} />}</Route>
      <Route path="/assets/:id/decide">{({ id }) => <DecidePage key={id} assetId={Number(id)} />}</Route>
      <Route path="/assets/:id/repair">{({ id }) => <RepairPage key={id} assetId={Number(id)} />}</Route>
      <Route path="/assets/:id/opened">{({ id }) => <OpenedPage key={id} assetId={Number(id)} />}</Route>
      <Route path="/assets/:id/watch">{({ id }) => <WatchPage key={id} assetId={Number(id)} />}</Route>
      <Route path="/alerts">
        <Alerts />
      </Route>
      <Route path="/runs">
        <Runs />
      </Route>
      <Route path="/runs/new">
        <RunStart />
      </Route>
      <Route path="/runs/import">
        <RunImport />
      </Route>
      <Route path="/runs/:id">{({ id }) => <RunPage key={id} runId={Number(id)} />}</Route>
      <Route path="/nodes/:nodeId/:sensor">
        {({ nodeId, sensor }) => (
          <SensorPage key={`${nodeId}/${sensor}`} nodeId={nodeId!} sensor={Number(sensor)} />
        )}
      </Route>
      <Route path="/assets/:id/tap">{({ id }) => <TapTest key={id} assetId={Number(id)} />}</Route>
      <Route path="/people">
        <People />
      </Route>
      <Route path="/nodes">
        <Nodes />
      </Route>
      <Route path="/sites">
        <SitesPage />
      </Route>
      <Route>
        <Title>No such page</Title>
        <p>
          <Link href="/">Back to the levels</Link>
        </p>
      </Route>
    </Switch>
  );
}

const WAYS = [
  { href: '/', name: 'Levels', under: /^\/($|location)/ },
  { href: '/alerts', name: 'Alerts', under: /^\/alerts/ },
  { href: '/runs', name: 'Runs', under: /^\/runs/ },
  { href: '/assets', name: 'Assets', under: /^\/assets/ },
  { href: '/nodes', name: 'Nodes', under: /^\/nodes/ },
  { href: '/sites', name: 'Sites', under: /^\/sites/ },
  { href: '/cautions', name: 'Cautions', under: /^\/cautions/ },
];

/** How many are open; nothing where none is. */
function OpenAlerts() {
  const { state } = useApp();
  const open = useComputed(() => state.value.alerts?.length ?? 0).value;
  if (open === 0) return null;
  return (
    <span class="count">
      {open}
      <span class="unseen"> open</span>
    </span>
  );
}

function Header() {
  const { state, api, dispatch } = useApp();
  const session = useComputed(() => state.value.session).value;
  const [path] = useLocation();
  const action = useAction();
  const person = session?.person;
  // A station by itself has no other sites to show.
  const ways = WAYS.filter(({ href }) => href !== '/sites' || session?.sites !== undefined);
  return (
    <header class="top">
      <div class="bar">
        <Link href="/" class="brand">
          Clampline{session && <span class="site">{session.site}</span>}
        </Link>
        {person && (
          <nav aria-label="Pages">
            {ways.map(({ href, name, under }) => (
              <Link key={href} href={href} {...(under.test(path) ? { 'aria-current': 'page' as const } : {})}>
                {name}
                {href === '/alerts' && <OpenAlerts />}
              </Link>
            ))}
          </nav>
        )}
        {person && (
          <div class="person">
            <Link href="/people" title="Your password; who may use the station">
              {person.name}
            </Link>
            <button
              type="button"
              class="quiet"
              onClick={() =>
                void action.run(async () => {
                  const answer = await api.logout();
                  dispatch({ type: 'session', session: answer, atMs: Date.now() });
                })
              }
            >
              Sign out
            </button>
          </div>
        )}
      </div>
      <Failure failure={action.failure.value} />
    </header>
  );
}

function Banner() {
  const { state, nowMs, api, dispatch } = useApp();
  const lost = useComputed(() => {
    const { connection, lostSinceMs, session } = state.value;
    if (connection !== 'lost' || !(session === null || session.person)) return '';
    return lostSinceMs === null || session === null
      ? 'No connection to the station. Trying again…'
      : `No connection to the station since ${moment(lostSinceMs, nowMs.value)}. Levels below are the last known. Trying again…`;
  });
  const demo = useComputed(() => state.value.session?.demo === true && state.value.session.person !== null);
  const share = useComputed(() => state.value.session?.demoHistoryShare ?? 1);
  const filling = demo.value && share.value < 1;
  useEffect(() => {
    if (!filling) return;
    const timer = setInterval(() => {
      if (document.visibilityState !== 'visible') return;
      const read = async () => dispatch({ type: 'session', session: await api.session(), atMs: Date.now() });
      // The next time will do.
      read().catch(() => {});
    }, 5000);
    return () => clearInterval(timer);
  }, [filling]);
  return (
    <>
      <div role="status">{lost.value && <p class="banner">{lost.value}</p>}</div>
      {demo.value && (
        <section aria-label="Demo">
          <p class="demo">
            Demo: these levels come from virtual nodes, not from a real vehicle.
            {filling && ` Twenty weeks of history are being filled in: ${Math.floor(100 * share.value)} %.`}
          </p>
        </section>
      )}
    </>
  );
}
