// A page whose only script plays sound.
import { play } from "./sound.js";

play(document);
