/** What the pages about an asset's repairs share: finding the asset, the way back, cautions. */
import { useComputed } from '@preact/signals';
import type { ComponentChildren } from 'preact';
import { Link, useSearch } from 'wouter-preact';
import type { Asset } from '../../../contract/model.ts';
import { useApp } from '../../state/store.ts';
import { Title } from '../title.tsx';

interface FrameProps {
  assetId: number;
  title: string;
  children(asset: Asset, asked: number | null): ComponentChildren;
}

/** Frame of a page `/assets/:id/...?location=ID`: `asked` is that location, if it is one of the asset. */
export function AssetFrame({ assetId, title, children }: FrameProps) {
  const { state } = useApp();
  const assets = useComputed(() => state.value.assets).value;
  const wanted = Number(new URLSearchParams(useSearch()).get('location'));
  if (assets === null) return <p>Reading the list of assets…</p>;
  const asset = assets.find(({ id }) => id === assetId);
  if (asset === undefined)
    return (
      <>
        <Title>No such asset</Title>
        <p>
          It may have been deleted. <Link href="/assets">All assets</Link>
        </p>
      </>
    );
  const asked = asset.locations.find(({ id }) => id === wanted) ?? null;
  return (
    <>
      <p class="crumb">
        <Link href="/">Levels</Link> / <Link href={`/assets/${assetId}`}>{asset.name}</Link>
        {asked && (
          <>
            {' '}
            / <Link href={`/location/${asked.id}`}>{asked.name}</Link>
          </>
        )}
      </p>
      <Title tab={`${title}, ${asset.name}`}>
        {title} <span class="site">{asset.name}</span>
      </Title>
      {children(asset, asked?.id ?? null)}
    </>
  );
}

/** Comes before any number, and is read out at once. */
export function SafetyNotice({ caution }: { caution: string | null }) {
  if (caution === null) return null;
  return (
    <section class="panel safety" aria-labelledby="safety-first">
      <h2 id="safety-first">Safety first</h2>
      <p>
        <strong>{caution}</strong>
      </p>
    </section>
  );
}

/** Choices of a select among an asset's locations. */
export function PlaceOptions({ asset, asked = null }: { asset: Asset; asked?: number | null }) {
  return (
    <>
      {asset.locations.map(({ id, name, component }) => (
        <option key={id} value={id} {...(asked === null ? {} : { selected: id === asked })}>
          {name} ({component})
        </option>
      ))}
    </>
  );
}
