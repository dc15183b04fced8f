import { page } from "./ui.js";
import "./help.js";

page("Runs");
