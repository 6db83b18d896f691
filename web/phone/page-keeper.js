/** Keeps the household's page on the phone, in the version that its server has. */

import { PRECACHE, serviceWorkerOf } from './addresses.js';
import { ServiceWorkerBridge } from './service-worker-bridge.js';

export class PageKeeper extends ServiceWorkerBridge {
  constructor() {
    super('Open it over https, or on localhost.');
  }

  async newest() {
    try {
      const response = await fetch(PRECACHE, { cache: 'no-store' });
      return response.ok ? serviceWorkerOf((await response.json()).version) : null;
    } catch {
      return null;
    }
  }
}
