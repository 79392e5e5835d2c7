/** The people's own figures. Nothing is filled in but what they entered at the last decision here. */
import type { DecisionFigures, DecisionOption } from '../../../contract/decisions.ts';
import type { ApiFailure } from '../../api.ts';
import { Failure } from '../actions.tsx';
import { Field, fieldText } from '../forms.tsx';
import { BelievedField, believedOf, numberOf } from './believed.tsx';

type Kind = DecisionOption['kind'];

const OPTIONS: readonly { kind: Kind; name: string; explanation: string }[] = [
  { kind: 'repair-now', name: 'Repair now', explanation: 'New parts, or an exchange unit.' },
  {
    kind: 'used-part',
    name: 'Fit a used part',
    explanation: 'Whatever its past: say what you believe of it.',
  },
  {
    kind: 'watch',
    name: 'Keep driving and watch',
    explanation: 'Nothing is paid now; the repair may come due later, or the part may break down.',
  },
];

interface Props {
  /** Figures of the last decision here. */
  first: DecisionFigures | undefined;
  busy: boolean;
  failure: ApiFailure | null;
  onAsked(figures: Omit<DecisionFigures, 'locationId' | 'part'>): void;
}

export function DecideForm({ first, busy, failure, onAsked }: Props) {
  const submit = (event: Event) => {
    event.preventDefault();
    const form = new FormData(event.currentTarget as HTMLFormElement);
    onAsked({
      currency: fieldText(event, 'currency'),
      labourPerHour: believedOf(form, 'labourPerHour'),
      keptMonths: numberOf(form, 'keptMonths') ?? 0,
      usePerYearKm: numberOf(form, 'usePerYearKm') ?? 0,
      breakdownBesides: believedOf(form, 'breakdownBesides'),
      repairAfterBreakdown: believedOf(form, 'repairAfterBreakdown'),
      laterRepair: believedOf(form, 'laterRepair'),
      options: OPTIONS.filter(({ kind }) => form.has(`${kind}-take`)).map(({ kind, name }) =>
        optionOf(form, kind, name),
      ),
    });
  };
  return (
    <form onSubmit={submit} class="decide">
      <section class="panel" aria-labelledby="common-figures">
        <h2 id="common-figures">Your figures</h2>
        <p class="hint">
          No price is built in. Empty is 0; without least and most, the middle is taken as sure. Chances are
          in percent and mean: within the time you keep it.
        </p>
        <div class="in-line">
          <Field
            label="Currency"
            name="currency"
            required
            maxLength={20}
            autocomplete="off"
            defaultValue={first?.currency ?? ''}
          />
          <NumberField label="Kept for, months" name="keptMonths" first={first?.keptMonths} required />
          <NumberField label="Use a year, km" name="usePerYearKm" first={first?.usePerYearKm} required />
        </div>
        <BelievedField label="An hour of labour" name="labourPerHour" first={first?.labourPerHour} />
        <BelievedField
          label="What a breakdown on the road costs besides the repair"
          name="breakdownBesides"
          hint="Recovery, hire, lost work, what it takes with it"
          first={first?.breakdownBesides}
        />
        <BelievedField
          label="The repair after a breakdown"
          name="repairAfterBreakdown"
          hint="Parts and labour together"
          first={first?.repairAfterBreakdown}
        />
        <BelievedField
          label="The repair when it becomes due later, without a breakdown"
          name="laterRepair"
          hint="Parts and labour together"
          first={first?.laterRepair}
        />
      </section>
      <div class="two">
        {OPTIONS.map(({ kind, name, explanation }) => (
          <OptionFields
            key={kind}
            kind={kind}
            name={name}
            explanation={explanation}
            first={first?.options.find((option) => option.kind === kind)}
          />
        ))}
      </div>
      <Failure failure={failure} />
      <button type="submit" class="main" disabled={busy}>
        What does each cost?
      </button>
    </form>
  );
}

interface OptionFieldsProps {
  kind: Kind;
  name: string;
  explanation: string;
  first: DecisionOption | undefined;
}

function OptionFields({ kind, name, explanation, first }: OptionFieldsProps) {
  const waits = kind === 'watch';
  return (
    <section class="panel" aria-labelledby={`option-${kind}`}>
      <h2 id={`option-${kind}`}>{name}</h2>
      <p class="hint">{explanation}</p>
      <div class="ticks">
        <label>
          <input type="checkbox" name={`${kind}-take`} defaultChecked />
          Weigh this one
        </label>
      </div>
      {!waits && (
        <>
          <BelievedField label="Parts" name={`${kind}-parts`} first={first?.parts} />
          <BelievedField label="Hours of labour" name={`${kind}-labourHours`} first={first?.labourHours} />
        </>
      )}
      <BelievedField
        label={waits ? 'What the watching costs' : 'Other costs of doing it'}
        name={`${kind}-besides`}
        hint={waits ? 'Measuring, check-ups' : 'A day off the road, transport'}
        first={first?.besides}
      />
      <BelievedField
        label="Chance of a breakdown after this choice, percent"
        name={`${kind}-breakdownChance`}
        first={first?.breakdownChance}
        scale={0.01}
        required={waits}
      />
      <BelievedField
        label="Chance that the repair becomes due later, percent"
        name={`${kind}-laterRepairChance`}
        first={first?.laterRepairChance}
        scale={0.01}
      />
      {!waits && (
        <div class="in-line">
          <NumberField
            label="Guarantee, months"
            name={`${kind}-months`}
            hint="Empty: none"
            first={first?.warranty?.months}
          />
          <NumberField
            label="Guarantee, km at most"
            name={`${kind}-distanceKm`}
            hint="Empty: no limit"
            first={first?.warranty?.distanceKm ?? undefined}
          />
        </div>
      )}
    </section>
  );
}

function optionOf(form: FormData, kind: Kind, name: string): DecisionOption {
  const months = numberOf(form, `${kind}-months`);
  return {
    name,
    kind,
    parts: believedOf(form, `${kind}-parts`),
    labourHours: believedOf(form, `${kind}-labourHours`),
    besides: believedOf(form, `${kind}-besides`),
    breakdownChance: believedOf(form, `${kind}-breakdownChance`, 0.01),
    warranty: months === null ? null : { months, distanceKm: numberOf(form, `${kind}-distanceKm`) },
    laterRepairChance: believedOf(form, `${kind}-laterRepairChance`, 0.01),
  };
}

interface NumberFieldProps {
  label: string;
  name: string;
  first: number | undefined;
  hint?: string;
  required?: boolean;
}

function NumberField({ first, ...field }: NumberFieldProps) {
  return (
    <Field
      {...field}
      inputMode="decimal"
      pattern="[0-9]+([.,][0-9]+)?"
      autocomplete="off"
      defaultValue={first === undefined ? '' : String(first)}
    />
  );
}
