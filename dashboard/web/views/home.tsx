/** All assets with the newest level of each location. */
import { useComputed } from '@preact/signals';
import { Link } from 'wouter-preact';
import type { Asset, Location, LocationReading, NodeSummary } from '../../contract/model.ts';
import type { OpenWatchPlan } from '../../contract/watch-plans.ts';
import { isNoteworthy, verdictText } from '../finding-words.ts';
import { axisName, band, isUsualBand, significant } from '../format.ts';
import { useApp, useIsShop } from '../state/store.ts';
import { Failure, useAction } from './actions.tsx';
import { AlertCount, AlertLine } from './alert-count.tsx';
import { CautionLine } from './caution-line.tsx';
import { Flags, useFreshness, useReading, Velocity, ZoneScale } from './level.tsx';
import { usePolled } from './polled.ts';
import { Title } from './title.tsx';
import { turnedText } from './turned-notice.tsx';
import { WaitingSensors } from './waiting-sensors.tsx';
import { WatchLines } from './watch-lines.tsx';

export function Home() {
  const { state } = useApp();
  const assets = useComputed(() => state.value.assets).value;
  if (assets === null)
    return (
      <>
        <Title>Levels</Title>
        <p>Reading the list of assets…</p>
      </>
    );
  if (assets.length === 0) return <FirstSteps />;
  return (
    <>
      <Title>Levels</Title>
      <p class="lead">
        Velocity RMS (root mean square) of the newest second, 10 to 1000 Hz unless the row says otherwise. The
        highest axis leads; letters are zones.
      </p>
      <Waiting />
      <AllLevels assets={assets} />
      <CautionLine>
        Zones were made for stationary machines at steady speed; on a vehicle they only screen.
      </CautionLine>
    </>
  );
}

const REFRESH_MS = 10_000;
const PLANS_REFRESH_MS = 60_000;

function AllLevels({ assets }: { assets: readonly Asset[] }) {
  const { api } = useApp();
  const { data } = usePolled(() => api.call<OpenWatchPlan[]>('GET', '/watch-plans'), '', PLANS_REFRESH_MS);
  return (
    <div class="assets">
      {assets.map((asset) => (
        <AssetLevels
          key={asset.id}
          asset={asset}
          plans={data.value?.filter(({ assetId }) => assetId === asset.id) ?? []}
        />
      ))}
    </div>
  );
}

function Waiting() {
  const { api } = useApp();
  const { data, again } = usePolled<NodeSummary[]>(() => api.nodes(), '', REFRESH_MS);
  return data.value && <WaitingSensors nodes={data.value} onMounted={again} />;
}

function AssetLevels({ asset, plans }: { asset: Asset; plans: readonly OpenWatchPlan[] }) {
  return (
    <section class="panel asset" aria-labelledby={`asset-${asset.id}`}>
      <header>
        <h2 id={`asset-${asset.id}`}>{asset.name}</h2>
        <AlertCount assetId={asset.id} />
        <p>
          {asset.kind === 'vehicle' ? 'Vehicle' : 'Machine'}, class {asset.machineClass}
        </p>
      </header>
      <WatchLines plans={plans} />
      {asset.locations.length === 0 ? (
        <p class="none">
          No location yet. <Link href={`/assets/${asset.id}`}>Add one</Link>
        </p>
      ) : (
        <ul class="rows">
          {asset.locations.map((place) => (
            <LocationRow key={place.id} place={place} />
          ))}
        </ul>
      )}
    </section>
  );
}

function LocationRow({ place }: { place: Location }) {
  const reading = useReading(place.id);
  const fresh = useFreshness(reading);
  const newest = reading.value;
  const old = fresh.kind.value !== 'fresh' && fresh.kind.value !== 'late';
  return (
    <li>
      <Link href={`/location/${place.id}`} class={`row ${old ? 'old' : ''}`} data-location={place.id}>
        <span class="place">
          <span class="name">{place.name}</span>
          <span class="component">{place.component}</span>
        </span>
        <span class="level">
          <Velocity reading={newest} />
          <span class="axis">{newest ? axisText(newest) : ''}</span>
        </span>
        <ZoneScale zone={newest?.highest?.zone ?? null} old={old} />
        <span class={`age ${fresh.kind.value}`}>
          {place.mount === null ? 'no sensor mounted' : fresh.text}
        </span>
        <AlertLine locationId={place.id} />
        {place.mount?.turned && (
          <span class="moved">{turnedText(place.mount.turned.turnedDeg)}: check the clamp</span>
        )}
        {place.finding && isNoteworthy(place.finding.verdict) && (
          <span class="finding">{verdictText(place.finding.verdict, place.finding.bearing)}</span>
        )}
        {newest && newest.flags.length > 0 && <Flags flags={newest.flags} />}
      </Link>
    </li>
  );
}

/** Uncertainty, leading axis, and the band where it is not the usual one. */
function axisText({ highest, bandHz }: LocationReading): string {
  const parts: string[] = [];
  const range = highest?.velocityUncertaintyMmPerS;
  if (range) parts.push(`± ${significant(range, 2)}`);
  if (highest) parts.push(highest.axis === 'single' ? 'single axis' : `axis ${axisName(highest.axis)}`);
  if (!isUsualBand(bandHz)) parts.push(band(bandHz));
  return parts.join(', ');
}

function FirstSteps() {
  const { api, dispatch, readAssets } = useApp();
  const isShop = useIsShop();
  const action = useAction();
  return (
    <>
      <Title>Nothing to measure yet</Title>
      <p class="lead">This station is ready. Two ways to begin:</p>
      <div class="two">
        <section class="panel">
          <h2>Try the demo</h2>
          <p>
            Three minibuses of a small town’s service and a workshop extraction fan. Virtual sensor nodes send
            through the same path as real ones; nothing else is needed.
          </p>
          <Failure failure={action.failure.value} />
          {isShop ? (
            <button
              type="button"
              class="main"
              disabled={action.busy.value}
              onClick={() =>
                void action.run(async () => {
                  await api.startDemo();
                  dispatch({ type: 'session', session: await api.session(), atMs: Date.now() });
                  await readAssets();
                })
              }
            >
              {action.busy.value ? 'Starting the demo…' : 'Start the demo'}
            </button>
          ) : (
            <p>Somebody with the role shop can start it.</p>
          )}
        </section>
        <section class="panel">
          <h2>Use your own sensors</h2>
          <ol>
            <li>
              <Link href="/nodes">Enrol a sensor node</Link>: it gets its own password.
            </li>
            <li>
              <Link href="/assets">Add an asset</Link> (a vehicle or machine) and the locations on it.
            </li>
            <li>Mount the sensor at a location. Its level then shows here every second.</li>
          </ol>
        </section>
      </div>
      <CautionLine>Before you clamp anything to a vehicle or machine:</CautionLine>
    </>
  );
}
