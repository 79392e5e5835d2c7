/** Repair now, later or differently: safety first, then what was measured, then the people's own figures. */
import { useSignal } from '@preact/signals';
import { useMemo } from 'preact/hooks';
import type {
  DecisionAnswer,
  DecisionFigures,
  DecisionRequest,
  DecisionSupport,
  PartKind,
} from '../../../contract/decisions.ts';
import type { Asset } from '../../../contract/model.ts';
import { decidingCalls } from '../../api-deciding.ts';
import { useApp } from '../../state/store.ts';
import { Failure, useAction, useRead } from '../actions.tsx';
import { DecideAnswer } from './decide-answer.tsx';
import { DecideForm } from './decide-form.tsx';
import { DecideRecord } from './decide-record.tsx';
import { DecidedList } from './decided-list.tsx';
import { AssetFrame, PlaceOptions, SafetyNotice } from './frame.tsx';

export function DecidePage({ assetId }: { assetId: number }) {
  return (
    <AssetFrame assetId={assetId} title="Decide">
      {(asset, asked) =>
        asset.locations.length === 0 ? (
          <p>There is no location on it yet.</p>
        ) : (
          <Decide asset={asset} asked={asked} />
        )
      }
    </AssetFrame>
  );
}

const PARTS: readonly { part: PartKind; label: string }[] = [
  { part: 'wheel-bearing', label: 'Wheel bearing' },
  { part: 'steering', label: 'Steering' },
  { part: 'brake', label: 'Brake' },
  { part: 'structural', label: 'Suspension or structure' },
  { part: 'drive-train', label: 'Gearbox, axle drive, shafts' },
  { part: 'engine', label: 'Engine' },
  { part: 'machine', label: 'Part of a machine' },
  { part: 'other', label: 'Something else' },
];

function Decide({ asset, asked }: { asset: Asset; asked: number | null }) {
  const { api, state } = useApp();
  const calls = useMemo(() => decidingCalls(api.call), [api]);
  // Without a wish, the place that called for attention.
  const alerted = asset.locations.find(({ id }) =>
    state.peek().alerts?.some(({ locationId }) => locationId === id),
  );
  const place = useSignal(asked ?? (alerted ?? asset.locations[0]!).id);
  const part = useSignal<PartKind | null>(null);
  const action = useAction();
  const asking = useSignal<{ figures: DecisionFigures; answer: DecisionAnswer } | null>(null);
  const kept = useSignal(false);
  const keptMonths = asking.value?.figures.keptMonths ?? null;
  const support = useRead(
    () => calls.support(place.peek(), { part: part.peek(), keptMonths }),
    `${place.value} ${part.value} ${keptMonths}`,
  );
  const decisions = useRead(() => calls.decisions(asset.id), String(asset.id));
  const known = support.data.value;
  const first = decisions.data.value?.find(({ locationId }) => locationId === place.value)?.figures;

  const ask = (entered: Omit<DecisionFigures, 'locationId' | 'part'>) => {
    const figures = {
      ...entered,
      locationId: place.value,
      part: part.value ?? known?.part ?? ('other' as const),
    };
    kept.value = false;
    void action.run(async () => {
      asking.value = { figures, answer: await calls.costs(asset.id, figures) };
    });
  };
  const record = async (request: DecisionRequest) => {
    await calls.decide(asset.id, request);
    asking.value = null;
    kept.value = true;
    decisions.again();
  };
  return (
    <>
      <div class="in-line">
        <label class="select">
          About
          <select
            value={place.value}
            onChange={(event) => {
              place.value = Number(event.currentTarget.value);
              part.value = null;
              asking.value = null;
            }}
          >
            <PlaceOptions asset={asset} />
          </select>
        </label>
        <label class="select">
          What part is it?
          <select
            value={part.value ?? known?.part ?? 'other'}
            onChange={(event) => {
              part.value = event.currentTarget.value as PartKind;
              asking.value = null;
            }}
          >
            {PARTS.map(({ part: value, label }) => (
              <option key={value} value={value}>
                {label}
              </option>
            ))}
          </select>
        </label>
      </div>
      <Failure failure={support.failure.value ?? decisions.failure.value} />
      {known && (
        <>
          <SafetyNotice caution={known.caution} />
          <Support support={known} />
          <DecideForm
            key={`${place.value} ${first === undefined}`}
            first={first}
            busy={action.busy.value}
            failure={action.failure.value}
            onAsked={ask}
          />
        </>
      )}
      {asking.value && (
        <>
          {asking.value.answer.caution && (
            <p class="panel safety">
              <strong>{asking.value.answer.caution}</strong>
            </p>
          )}
          <DecideAnswer answer={asking.value.answer} currency={asking.value.figures.currency} />
          <DecideRecord
            key={JSON.stringify(asking.value.figures)}
            figures={asking.value.figures}
            answer={asking.value.answer}
            onRecord={record}
          />
        </>
      )}
      <p role="status">{kept.value ? 'The decision is kept.' : ''}</p>
      <DecidedList decisions={decisions.data.value ?? []} />
    </>
  );
}

function Support({ support }: { support: DecisionSupport }) {
  return (
    <section class="panel" aria-labelledby="support-heading">
      <h2 id="support-heading">What the measurements say</h2>
      {support.supports.length === 0 ? (
        <p class="none">Nothing yet.</p>
      ) : (
        <ul class="sentences">
          {support.supports.map((sentence) => (
            <li key={sentence}>{sentence}</li>
          ))}
        </ul>
      )}
      <h3>What they do not</h3>
      <ul class="sentences">
        {support.cannotSay.map((sentence) => (
          <li key={sentence}>{sentence}</li>
        ))}
      </ul>
    </section>
  );
}
