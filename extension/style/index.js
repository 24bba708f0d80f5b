import 'uplot/dist/uPlot.min.css';
import './spectrum.css';
import './finder.css';
import './light_path.css';
import './frame_check.css';
import './transmission.css';
