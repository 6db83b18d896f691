/**
 * Asks, where the page comes over the network, for what the address needs while the page's own code is still on
 * its way: the modules of the screen that it names, and those that reach outside.
 */

import { askFor, routed } from './preloads.js';

askFor(routed(), 'outside');
