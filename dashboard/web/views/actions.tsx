/** Asking the station for something: busy state, failure with its remedy, confirmation of what cannot be undone. */
import { type Signal, useSignal } from '@preact/signals';
import type { ComponentChildren } from 'preact';
import { useEffect, useRef } from 'preact/hooks';
import { ApiFailure } from '../api.ts';

export interface Action {
  busy: Signal<boolean>;
  failure: Signal<ApiFailure | null>;
  /** Runs one request at a time; true when it went well. */
  run(request: () => Promise<void>): Promise<boolean>;
}

export function useAction(): Action {
  const busy = useSignal(false);
  const failure = useSignal<ApiFailure | null>(null);
  return {
    busy,
    failure,
    async run(request) {
      if (busy.value) return false;
      busy.value = true;
      failure.value = null;
      try {
        await request();
        return true;
      } catch (error) {
        failure.value = asFailure(error);
        return false;
      } finally {
        busy.value = false;
      }
    },
  };
}

export function asFailure(error: unknown): ApiFailure {
  if (error instanceof ApiFailure) return error;
  return new ApiFailure(0, {
    code: 'PAGE_ERROR',
    message: `The page stumbled: ${error instanceof Error ? error.message : String(error)}`,
    remedy: 'Reload the page. If it happens again, please report it with these words.',
  });
}

export function Failure({ failure }: { failure: ApiFailure | null }) {
  if (failure === null) return null;
  return (
    <p class="failure" role="alert">
      <strong>{failure.message}</strong> {failure.remedy}
    </p>
  );
}

interface Read<Data> {
  data: Signal<Data | null>;
  failure: Signal<ApiFailure | null>;
  again(): void;
}

/**
 * Reads once when drawn, again when `key` changes or `again` is called. The old answer stays until the new one is
 * there, so that the page does not jump; a late answer to an old key is dropped.
 */
export function useRead<Data>(read: () => Promise<Data>, key: string): Read<Data> {
  const data = useSignal<Data | null>(null);
  const failure = useSignal<ApiFailure | null>(null);
  const newest = useRef(0);
  const again = () => {
    newest.current += 1;
    const mine = newest.current;
    read().then(
      (answer) => {
        if (mine !== newest.current) return;
        failure.value = null;
        data.value = answer;
      },
      (error) => {
        if (mine === newest.current) failure.value = asFailure(error);
      },
    );
  };
  // `key` stands for everything `read` depends on.
  useEffect(() => {
    again();
    return () => {
      newest.current += 1;
    };
  }, [key]);
  return { data, failure, again };
}

interface ConfirmProps {
  label: string;
  question: string;
  children: ComponentChildren;
  confirm: string;
  onConfirm(): Promise<void>;
  /** Style of the button; default: quiet. */
  look?: string;
}

/** A button that first says what will happen. */
export function ConfirmButton({
  label,
  question,
  children,
  confirm,
  onConfirm,
  look = 'quiet',
}: ConfirmProps) {
  const dialog = useRef<HTMLDialogElement>(null);
  const keep = useRef<HTMLButtonElement>(null);
  const ask = () => {
    dialog.current?.showModal();
    // A hasty Enter must not delete anything.
    keep.current?.focus();
  };
  const action = useAction();
  return (
    <>
      <button type="button" class={look} onClick={ask}>
        {label}
      </button>
      <dialog ref={dialog} aria-label={question}>
        <h2>{question}</h2>
        <div>{children}</div>
        <Failure failure={action.failure.value} />
        <div class="buttons">
          <button
            type="button"
            class="main"
            disabled={action.busy.value}
            onClick={async () => {
              if (await action.run(onConfirm)) dialog.current?.close();
            }}
          >
            {confirm}
          </button>
          <button type="button" ref={keep} onClick={() => dialog.current?.close()}>
            Keep
          </button>
        </div>
      </dialog>
    </>
  );
}
