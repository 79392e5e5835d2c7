/** Binds the pure state to signals, the one place where views read it. */
import { type ReadonlySignal, type Signal, signal, useComputed } from '@preact/signals';
import { createContext } from 'preact';
import { useContext } from 'preact/hooks';
import type { Api } from '../api.ts';
import { reduce } from './reduce.ts';
import { initialState, type Message, type State } from './state.ts';

export interface Store {
  state: ReadonlySignal<State>;
  /** Station time in ms, once a second. */
  nowMs: ReadonlySignal<number>;
  dispatch(message: Message): void;
}

export function createStore(nowMs: Signal<number>): Store {
  const state = signal(initialState);
  return {
    state,
    nowMs,
    dispatch(message) {
      state.value = reduce(state.value, message);
    },
  };
}

export interface App extends Store {
  api: Api;
  /** Reads assets and newest readings again; failures are shown by the caller. */
  readAssets(): Promise<void>;
  /** Shows another page of this site. */
  goTo(path: string): void;
}

const AppContext = createContext<App | null>(null);
export const AppProvider = AppContext.Provider;

/** Whether the person may do what only the shop may: enrol nodes, delete, set the station. */
export function useIsShop(): boolean {
  const { state } = useApp();
  return useComputed(() => state.value.session?.person?.role === 'shop').value;
}

export function useApp(): App {
  const app = useContext(AppContext);
  if (app === null) throw new Error('A view was drawn outside the AppProvider.');
  return app;
}
