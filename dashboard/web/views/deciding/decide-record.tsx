/** Writing down what was decided; a refused safety advice with its very words and a name. */
import { useSignal } from '@preact/signals';
import type { DecisionAnswer, DecisionFigures, DecisionRequest } from '../../../contract/decisions.ts';
import { Failure, useAction } from '../actions.tsx';
import { Choice, Field, fieldText } from '../forms.tsx';

interface Props {
  figures: DecisionFigures;
  answer: DecisionAnswer;
  onRecord(request: DecisionRequest): Promise<void>;
}

export function DecideRecord({ figures, answer, onRecord }: Props) {
  const action = useAction();
  const chosen = useSignal<string>('');
  const option = figures.options.find(({ name }) => name === chosen.value);
  const against = answer.caution !== null && option?.kind === 'watch' ? answer.caution : null;
  const submit = (event: Event) => {
    event.preventDefault();
    if (option === undefined) return;
    const refusal = against === null ? null : { name: fieldText(event, 'refusedBy'), textShown: against };
    const request = {
      figures,
      chosen: option.name,
      decidedBy: fieldText(event, 'decidedBy'),
      note: fieldText(event, 'note'),
      refusal,
    };
    void action.run(() => onRecord(request));
  };
  return (
    <section class="panel" aria-labelledby="record-heading">
      <h2 id="record-heading">What was decided</h2>
      <form onSubmit={submit}>
        <Choice
          legend="Decided"
          value={chosen.value}
          options={figures.options.map(({ name }) => ({ value: name, label: name }))}
          onChoose={(name) => {
            chosen.value = name;
          }}
        />
        <div class="in-line">
          <Field label="Decided by" name="decidedBy" required maxLength={120} autocomplete="off" />
          <Field label="Note" name="note" maxLength={1000} autocomplete="off" />
        </div>
        {against !== null && (
          <div class="panel safety">
            <h3>This goes against the safety advice</h3>
            <p>
              <strong>{against}</strong>
            </p>
            <Field
              label="I have read this and refuse it: name"
              name="refusedBy"
              required
              maxLength={120}
              autocomplete="off"
              hint="Kept with these very words and today’s date."
            />
          </div>
        )}
        <Failure failure={action.failure.value} />
        <button type="submit" class="main" disabled={action.busy.value || option === undefined}>
          Keep this decision
        </button>
      </form>
    </section>
  );
}
