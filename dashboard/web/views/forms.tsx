/** Form parts with their labels and hints tied together. */
import type { ComponentChildren, JSX } from 'preact';
import { useId } from 'preact/hooks';

interface FieldProps extends JSX.HTMLAttributes<HTMLInputElement> {
  label: string;
  name: string;
  hint?: ComponentChildren;
  type?: string;
  maxLength?: number;
  minLength?: number;
  required?: boolean;
  autocomplete?: string;
  inputMode?: string;
  pattern?: string;
  defaultValue?: string;
}

export function Field({ label, hint, ...input }: FieldProps) {
  const id = useId();
  const hintId = `${id}-hint`;
  return (
    <div class="field">
      <label for={id}>{label}</label>
      <input id={id} {...(hint ? { 'aria-describedby': hintId } : {})} {...(input as object)} />
      {hint && (
        <p class="hint" id={hintId}>
          {hint}
        </p>
      )}
    </div>
  );
}

interface ChoiceProps<Value extends string> {
  legend: string;
  value: Value;
  options: readonly { value: Value; label: string }[];
  onChoose(value: Value): void;
  /** The legend is for screen readers only. */
  hideLegend?: boolean;
}

/** One of a few: radio buttons drawn as a row of keys. */
export function Choice<Value extends string>({
  legend,
  value,
  options,
  onChoose,
  hideLegend,
}: ChoiceProps<Value>) {
  const name = useId();
  return (
    <fieldset class="choice">
      <legend class={hideLegend ? 'unseen' : ''}>{legend}</legend>
      <div class="keys">
        {options.map((option) => (
          <label key={option.value}>
            <input
              type="radio"
              name={name}
              value={option.value}
              checked={option.value === value}
              onChange={() => onChoose(option.value)}
            />
            <span>{option.label}</span>
          </label>
        ))}
      </div>
    </fieldset>
  );
}

/** Text of a submitted form's field, without surrounding blanks (passwords stay as typed). */
export function fieldText(event: Event, name: string): string {
  const value = new FormData(event.currentTarget as HTMLFormElement).get(name);
  const text = typeof value === 'string' ? value : '';
  return name === 'password' ? text : text.trim();
}
