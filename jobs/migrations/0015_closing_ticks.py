import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('jobs', '0014_pins_and_bans'),
    ]

    operations = [
        migrations.CreateModel(
            name='ClosingTick',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('day', models.DateField()),
                ('item', models.CharField(max_length=160)),
                ('text', models.TextField()),
                ('ticked_at', models.DateTimeField()),
                ('job', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='closing_ticks', to='jobs.job')),
                ('ticked_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ('ticked_at', 'pk'),
                'constraints': [models.UniqueConstraint(fields=('job', 'day', 'item'), name='closing_tick_once_a_day')],
            },
        ),
    ]
