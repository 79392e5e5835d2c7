/** One asset: its data, its locations, and which sensor sits where. */
import { useComputed } from '@preact/signals';
import { Link } from 'wouter-preact';
import type { Asset, NodeSummary } from '../../contract/model.ts';
import { useApp, useIsShop } from '../state/store.ts';
import { ConfirmButton, Failure, useAction, useRead } from './actions.tsx';
import { AlertCount } from './alert-count.tsx';
import { AssetForm } from './assets.tsx';
import { CautionLine } from './caution-line.tsx';
import { DriveTrainPanel } from './drive-train.tsx';
import { Field, fieldText } from './forms.tsx';
import { later } from './later.tsx';
import { LocationEditor } from './location-editor.tsx';
import { ReportLinks } from './report-links.tsx';
import { Title } from './title.tsx';

const OwnerLinks = later(async () => (await import('./owner-links.tsx')).OwnerLinks);

export function AssetPage({ assetId }: { assetId: number }) {
  const { state, api, readAssets, goTo } = useApp();
  const isShop = useIsShop();
  const assets = useComputed(() => state.value.assets).value;
  const nodes = useRead<NodeSummary[]>(() => api.nodes(), String(assetId));
  const asset = assets?.find(({ id }) => id === assetId);
  if (assets === null) return <p>Reading the list of assets…</p>;
  if (!asset)
    return (
      <>
        <Title>No such asset</Title>
        <p>
          It may have been deleted. <Link href="/assets">All assets</Link>
        </p>
      </>
    );
  return (
    <>
      <p class="crumb">
        <Link href="/assets">All assets</Link>
      </p>
      <Title>{asset.name}</Title>
      <AlertCount assetId={asset.id} />
      <div class="buttons">
        <Link href={`/runs/new?asset=${asset.id}`} class="button main">
          Start a run
        </Link>
        <Link href={`/assets/${asset.id}/tap`} class="button">
          Tap test
        </Link>
        <Link href={`/assets/${asset.id}/decide`} class="button">
          Decide
        </Link>
        <Link href={`/assets/${asset.id}/watch`} class="button">
          Watch plan
        </Link>
        <Link href={`/assets/${asset.id}/repair`} class="button">
          Verify a repair
        </Link>
        <Link href={`/assets/${asset.id}/opened`} class="button">
          Strip-down log
        </Link>
      </div>
      <section class="stack" aria-labelledby="locations-heading">
        <h2 id="locations-heading">Locations</h2>
        <CautionLine>
          Mount sensors only on a standing vehicle or machine, away from heat, shafts, brakes, airbags and
          steering.
        </CautionLine>
        <Failure failure={nodes.failure.value} />
        {asset.locations.map((place) => (
          <LocationEditor
            key={place.id}
            place={place}
            nodes={nodes.data.value ?? []}
            onMounted={nodes.again}
          />
        ))}
        <AddLocation asset={asset} />
      </section>
      <DriveTrainPanel asset={asset} />
      <ReportLinks path={`/api/assets/${asset.id}/report`} />
      {isShop && <OwnerLinks assetId={asset.id} assetName={asset.name} />}
      <section class="panel narrow" aria-labelledby="asset-data">
        <h2 id="asset-data">Name and class</h2>
        <AssetForm
          key={asset.id}
          first={asset}
          submitLabel="Save"
          onSubmit={async (request) => {
            await api.changeAsset(asset.id, request);
          }}
        />
        {isShop && (
          <ConfirmButton
            label="Delete this asset"
            question={`Delete ${asset.name}?`}
            confirm="Delete"
            onConfirm={async () => {
              await api.deleteAsset(asset.id);
              await readAssets();
              goTo('/assets');
            }}
          >
            <p>Its locations go with it, and no screen shows their trend any more. This cannot be undone.</p>
          </ConfirmButton>
        )}
      </section>
    </>
  );
}

function AddLocation({ asset }: { asset: Asset }) {
  const { api, readAssets } = useApp();
  const action = useAction();
  const submit = (event: Event) => {
    event.preventDefault();
    const form = event.currentTarget as HTMLFormElement;
    const request = { name: fieldText(event, 'name'), component: fieldText(event, 'component') };
    void action.run(async () => {
      await api.addLocation(asset.id, request);
      form.reset();
      await readAssets();
    });
  };
  return (
    <section class="panel" aria-labelledby="add-location">
      <h3 id="add-location">Add a location</h3>
      <form onSubmit={submit}>
        <div class="in-line">
          <Field
            label="Location"
            name="name"
            required
            maxLength={80}
            autocomplete="off"
            hint="For example: wheel bearing, rear left"
          />
          <Field
            label="Component"
            name="component"
            required
            maxLength={80}
            autocomplete="off"
            hint="What it sits on, for example: rear axle"
          />
        </div>
        <Failure failure={action.failure.value} />
        <button type="submit" disabled={action.busy.value}>
          Add location
        </button>
      </form>
    </section>
  );
}
