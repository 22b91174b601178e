// The page of the engine's tests: store and engine, and the card that the screens would have made.
import {clientCard} from '../../static/clinical/index.js';
import './engine_alone.js';

globalThis.bench.clientCard = clientCard;
