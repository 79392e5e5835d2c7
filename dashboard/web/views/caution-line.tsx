import type { ComponentChildren } from 'preact';
import { Link } from 'wouter-preact';

/** One line of caution with the way to all of them. */
export function CautionLine({ children }: { children: ComponentChildren }) {
  return (
    <p class="caution-line">
      {children} <Link href="/cautions">Read the cautions</Link>
    </p>
  );
}
