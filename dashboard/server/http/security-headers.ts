import helmet from '@fastify/helmet';
import type { App } from '../context.ts';

/**
 * Everything the page needs comes from the station itself; nothing inline, nothing from elsewhere, no framing.
 * No HSTS: with the station's own certificate it would lock people out when the certificate changes.
 */
export async function securityHeaders(app: App): Promise<void> {
  await app.register(helmet, {
    contentSecurityPolicy: {
      useDefaults: false,
      directives: {
        defaultSrc: ["'none'"],
        scriptSrc: ["'self'"],
        styleSrc: ["'self'"],
        imgSrc: ["'self'", 'data:'],
        fontSrc: ["'self'"],
        connectSrc: ["'self'"],
        manifestSrc: ["'self'"],
        baseUri: ["'none'"],
        formAction: ["'self'"],
        frameAncestors: ["'none'"],
      },
    },
    strictTransportSecurity: false,
    frameguard: { action: 'deny' },
    // Unlike 'no-referrer' it keeps the Origin header of the station's own forms.
    referrerPolicy: { policy: 'same-origin' },
  });
}
