/** Decisions of an asset, each with the figures it stood on. */
import { Link } from 'wouter-preact';
import type { Decision } from '../../../contract/decisions.ts';
import { day } from '../../format.ts';
import { useApp } from '../../state/store.ts';
import { amount } from './decide-answer.tsx';

export function DecidedList({ decisions }: { decisions: readonly Decision[] }) {
  const { nowMs } = useApp();
  if (decisions.length === 0) return null;
  return (
    <section class="panel" aria-labelledby="decided-heading">
      <h2 id="decided-heading">Decided so far</h2>
      <ul class="plain stack">
        {decisions.map((decision) => (
          <li key={decision.id}>
            <p>
              {day(decision.decidedMs, nowMs.value)}, {decision.location}: <strong>{decision.chosen}</strong>,
              decided by {decision.decidedBy} (entered by {decision.enteredBy})
              {decision.note && `. ${decision.note}`}
            </p>
            {decision.refusal && (
              <p class="caution-line">
                {decision.refusal.name} refused this advice on {day(decision.refusal.atMs, nowMs.value)}: “
                {decision.refusal.textShown}”
              </p>
            )}
            <Grounds decision={decision} />
            {isWaiting(decision) && decision.locationId !== null && (
              <Link class="button" href={`/assets/${decision.assetId}/watch?location=${decision.locationId}`}>
                Its watch plan
              </Link>
            )}
          </li>
        ))}
      </ul>
    </section>
  );
}

const isWaiting = ({ figures, chosen }: Decision): boolean =>
  figures.options.find(({ name }) => name === chosen)?.kind === 'watch';

function Grounds({ decision: { answer, figures, support } }: { decision: Decision }) {
  return (
    <details>
      <summary>What it stood on</summary>
      <ul>
        {answer.options.map(({ name, expected: { low, middle, high } }) => (
          <li key={name}>
            {name}: expected {amount(middle)} {figures.currency}
            {low === high ? '' : ` (${amount(low)} to ${amount(high)})`}
          </li>
        ))}
        {[...answer.breakEvens.map(({ sentence }) => sentence), ...support.supports].map((sentence) => (
          <li key={sentence}>{sentence}</li>
        ))}
        {support.cannotSay.map((sentence) => (
          <li key={sentence}>Not known: {sentence}</li>
        ))}
      </ul>
    </details>
  );
}
