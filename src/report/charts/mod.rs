//! One file a chart; `style` holds colours and sizes.
