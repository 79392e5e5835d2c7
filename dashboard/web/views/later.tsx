import { useSignal } from '@preact/signals';
import type { ComponentType } from 'preact';
import { useEffect } from 'preact/hooks';
import type { ApiFailure } from '../api.ts';
import { asFailure, Failure } from './actions.tsx';

/** A part of the page whose script is fetched when it is first drawn, so that the first load stays small. */
export function later<Props extends object>(load: () => Promise<ComponentType<Props>>): ComponentType<Props> {
  let part: ComponentType<Props> | null = null;
  return function Later(props: Props) {
    const ready = useSignal(part !== null);
    const failure = useSignal<ApiFailure | null>(null);
    useEffect(() => {
      if (part !== null) return;
      load().then(
        (loaded) => {
          part = loaded;
          ready.value = true;
        },
        (error) => {
          failure.value = asFailure(error);
        },
      );
    }, []);
    if (!ready.value || part === null) return <Failure failure={failure.value} />;
    const Part = part;
    return <Part {...props} />;
  };
}
