// One small store: plain state, whole-value patches, and a hook that redraws only on what it picks.
import { useEffect, useReducer, useRef } from "preact/hooks";

export interface Store<T> {
  get(): T;
  set(patch: Partial<T>): void;
  listen(heard: () => void): () => void;
}

export function makeStore<T extends object>(initial: T): Store<T> {
  let state = initial;
  const listeners = new Set<() => void>();
  return {
    get: () => state,
    set(patch) {
      state = { ...state, ...patch };
      for (const heard of [...listeners]) heard();
    },
    listen(heard) {
      listeners.add(heard);
      return () => listeners.delete(heard);
    },
  };
}

/** As useStore, for several parts of the state at once: redraws when one of them changes. */
export function useParts<T extends object, K extends keyof T>(store: Store<T>, keys: readonly K[]): T {
  const state = store.get();
  const [, redraw] = useReducer((n: number) => n + 1, 0);
  const last = useRef(state);
  last.current = state;
  useEffect(() => store.listen(() => keys.some((k) => store.get()[k] !== last.current[k]) && redraw(0)), [store]);
  return state;
}

export function useStore<T extends object, P>(store: Store<T>, pick: (state: T) => P): P {
  const [, redraw] = useReducer((n: number) => n + 1, 0);
  const picked = pick(store.get());
  const last = useRef(picked);
  const pickNow = useRef(pick);
  last.current = picked;
  pickNow.current = pick;
  useEffect(
    () =>
      store.listen(() => {
        const next = pickNow.current(store.get());
        if (!Object.is(next, last.current)) redraw(0);
      }),
    [store],
  );
  return picked;
}
