import type { ComponentChildren } from 'preact';
import { useEffect, useRef } from 'preact/hooks';

let pagesSeen = 0;

/**
 * Heading of a page. Names the browser tab, and takes the focus when it follows another page, so that keyboard
 * and screen reader go on from the top of the new one.
 */
export function Title({ children, tab }: { children: ComponentChildren; tab?: string }) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => {
    pagesSeen += 1;
    if (pagesSeen > 1) heading.current?.focus({ preventScroll: true });
    scrollTo(0, 0);
  }, []);
  useEffect(() => {
    document.title = `${tab ?? heading.current?.textContent ?? ''} · Clampline`;
  });
  return (
    <h1 ref={heading} tabIndex={-1}>
      {children}
    </h1>
  );
}
