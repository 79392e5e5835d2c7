import { useEffect } from 'preact/hooks';
import { useApp } from '../state/store.ts';
import { useRead } from './actions.tsx';

/** Like `useRead`, and again every so often while somebody looks and the station is in reach. */
export function usePolled<Data>(read: () => Promise<Data>, key: string, everyMs: number) {
  const { state } = useApp();
  const reading = useRead<Data>(read, key);
  // `again` reads with the newest props each time it is called; the key stands for them.
  useEffect(() => {
    const timer = setInterval(() => {
      if (document.visibilityState === 'visible' && state.value.connection !== 'lost') reading.again();
    }, everyMs);
    return () => clearInterval(timer);
  }, [key]);
  return reading;
}
